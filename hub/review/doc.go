// Package review looks back: what a stretch of the record came to, bath by bath
// and gas by gas, with its alarms, marks and gaps. It only calculates, over a
// Source that streams; what the bench looks like comes in as a Bench.
//
// How the figures are made:
//
//   - Only good readings count, and none that was made under test.
//   - A reading holds until the next one of its channel, good or not, and at
//     most for the channel's silence limit. It never holds past the end of the
//     hub's run. A reading from just before the stretch holds into it.
//   - Of a bath with several probes the highest that holds governs, as it does
//     for alarms.
//   - The mean is over time: each value weighs as long as it governed.
//   - The least is the lowest value that governed for any time. The most is the
//     highest good reading, even of no length.
//   - A bath is in range from the lower to the upper edge, both included; over
//     the limit at the limit or above. A gas over its cell's range is over the
//     limit, though it has no value.
//   - The time with no trusted value is all the rest of the stretch, times in
//     which the hub was dark included.
//
// The package may import record, rules (for the words of alarms) and sensors.
package review
