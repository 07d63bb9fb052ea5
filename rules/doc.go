// Package rules turns readings into alarms: a pure step function of time and
// data. It starts no goroutine, reads no clock, touches no file and logs
// nothing, and the same setup and inputs give the same events, always.
//
// The contract with whoever drives an Engine:
//
//  1. New checks the Setup and refuses one that can't be run.
//  2. Step takes the time of this moment as an offset on the hub's monotonic
//     clock, and one Input. Times never run backwards from call to call; a
//     reading may be older than now but its own time is what counts for its age.
//  3. Silence is an input: Step must be called with a bare tick at least once a
//     second, so that delays end and missing readings are noticed.
//  4. Step returns the alarm events of this moment in the order in which they
//     happened. The caller numbers, sounds, announces and records them.
//  5. View is a copy; nothing in it changes later.
//  6. Saved and Restore carry alarms over a restart of the hub. Every reading is
//     unknown after Restore until it is heard again.
//
// What a condition says is true, false or unknown. Only readings of good
// quality make it true or false; unknown neither raises an alarm nor clears
// one. A delay before raising keeps what it has counted while a condition is
// unknown; a delay before clearing starts again.
//
// The package imports sensors (for readings) and rules/boiling; nothing else of
// this module.
package rules
