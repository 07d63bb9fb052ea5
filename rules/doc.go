// Package rules turns readings into alarms: a pure step function of time and
// data. It starts no goroutine, reads no clock, touches no file and logs
// nothing, and the same setup and inputs give the same events, always.
//
// The contract with whoever drives an Engine:
//
//  1. New checks the Setup and refuses one that can't be run.
//  2. Step takes the time of this moment as an offset on the hub's monotonic
//     clock, and one Input. Times never run backwards from call to call; a
//     reading may be older than now, and its own time is what counts for its
//     age. One from before a gap, or older than the last of its channel, is
//     passed over; one from the future counts as of now. Each reading is judged
//     by itself, in order, so how they are batched changes nothing.
//  3. Silence is an input: Step must be called with a bare tick at least once a
//     second, so that delays end and missing readings are noticed.
//  4. Step returns the alarm events of this moment in the order in which they
//     happened. The caller numbers, sounds, announces and records them.
//  5. View is a copy; nothing in it changes later.
//  6. Saved and Restore carry alarms over a restart of the hub. Every reading is
//     unknown after Restore until it is heard again.
//
// What a condition says is true, false or unknown. Only readings of good
// quality, and a gas beyond its cell's range, make it true or false; unknown
// neither raises an alarm nor clears one. A delay before raising keeps what it
// has counted while a condition is unknown; a delay before clearing starts again.
//
// Of several probes in a bath the highest good one speaks. When it is lost, a
// twin that had agreed with it carries on; one that had not may raise an alarm
// but clears none, and cools nothing.
//
// The package imports sensors (for readings) and rules/boiling; nothing else of
// this module.
package rules
