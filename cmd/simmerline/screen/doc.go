// Package screen is the live view of a bench in a terminal: what it knows, how
// it moves on, and how it is drawn. It is pure: time comes in as an argument, it
// starts no goroutine, reads no clock and writes nowhere, so a test can show it
// any state and compare the drawing with a file.
//
// Model takes what a hub says (Heard), the passing of time (Tick) and keys
// (Key), and Render draws it for a size. Ear judges when a hub counts as
// silent. Line and Summary say the same things as single lines, for where there
// is no terminal.
//
// What is drawn, from the top: one word and one figure to be read from across a
// room, and the sentence that says what to do; the standing alarms in the order
// in which they are to be said; the baths on one shared temperature axis, with
// their working range and their line; the gases beside their setpoints; what is
// not well; what happened last; the keys. What matters least is cut first where
// there is no room.
//
// Words come with every colour: red for danger and amber for a warning, as in
// IEC 60073, and no green, since nobody can know that a room is safe. What is
// below its limits is in the terminal's own ink. While the hub says to keep
// away, nothing here asks anybody to the bench. Text that people or devices
// chose is stripped of whatever could upset a terminal.
//
// The package imports hub, hub/bench, rules, sensors and lipgloss; no grpc.
package screen
