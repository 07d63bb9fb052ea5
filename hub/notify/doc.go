// Package notify makes the hub sound by itself: patterns of its own, through a
// player that is installed on the machine, else through the bell of the hub's
// own terminal. It is the first alarm of all; screens and phones come after it.
//
// Duties, in the order of their weight:
//
//  1. Sound first of all. Set never blocks, and a level that has changed is
//     acted on at once: what was sounding is cut, and the new sound's player is
//     started before anything is told or written elsewhere.
//  2. Never silent by mistake. A player that fails, hangs or ends too soon is
//     left for the next way within the same moment; a better way is tried again
//     later, out of the way of the sound. Notice and Test never take the place
//     of a warning or a danger.
//  3. Never a false claim. A way counts as working only after it has really
//     played a moment of near-silence and said that it did. State says plainly
//     when this hub can make no sound, and why. That a sound leaves the
//     loudspeaker can be known only by ear: Heard is what a person has said.
//  4. Nothing left behind. When Run returns, its players and their children are
//     ended and its files removed, within a few seconds even if a player hangs.
//
// The sounds keep to real seconds, also in a sped-up demo: they are for ears.
// So this package uses the timers of the standard library and no other clock.
//
// pattern.go and wav.go are pure. player.go knows the players, files.go keeps
// the sounds for them, child.go runs one, bell.go rings a terminal, ways.go puts
// all ways in order, sounder.go holds the one goroutine that owns them.
//
// What it can't promise: loudness. ISO 7731 asks for at least 65 dB(A) and
// 15 dB above the noise of the room, which depends on loudspeaker, volume and
// distance. On Windows the only built-in way is PowerShell's SoundPlayer, which
// takes some tenths of a second to begin and does not report a missing sound
// device.
//
// The package imports nothing of this module. The hub and the commands may
// import it; sensors and rules may not.
package notify
