// Package hub is the running hub: one loop that owns all state, and around it
// what keeps, serves and tells.
//
// A reading goes one way:
//
//	poll → Deliver → loop → rules.Engine.Step ┬→ sound          (first of all)
//	                                          ├→ record         (written, later synced)
//	                                          └→ watchers       (announced)
//
// Nothing comes back but commands, which enter through the same loop.
//
// The duties of the loop, in the order in which it does them for every step:
//
//  1. The sounder is told of the loudest alarm at once, before anything else.
//  2. Every alarm event and notice gets the next sequence number and is handed
//     to the record.
//  3. An announcement reaches clients when the record has written it (it then
//     survives the end of this process), or after 50 ms, whichever is first; in
//     the second case it says that it is not recorded yet. Order is kept.
//  4. A state is published only when no announcement that it includes is held
//     back, so that no client sees an alarm before its event; the same holds for
//     the state that a client begins with.
//  5. Readings are handed to the record last. A slow or broken disk costs
//     readings before events, and never time: nothing here waits for it.
//  6. No client can hold the loop. States are conflated in one slot a client;
//     announcements are queued and never dropped; a client whose queue is full
//     is cut off and comes back by number and run. What memory no longer holds is
//     read from the record by whoever asked, not by the loop. A station that takes
//     nothing for five seconds no longer counts as somebody who can call.
//
// Time comes from the one clock given to New. The 50 ms of duty 3, the second
// between heartbeats and the pace of publishing are real time, since they are
// about machines and people; everything else runs on that clock.
//
// Shutdown: Run returns when its context ends, after watchers have been told,
// the sound has stopped and the record has been given the end of the run. The
// caller then stops poll, closes the record and waits for the sounder.
//
// The package imports rules, sensors, sensors/clock, and its own bench, notify,
// record and review. It knows no driver, no serial port and no gRPC: hub/grpcapi
// serves it.
package hub
