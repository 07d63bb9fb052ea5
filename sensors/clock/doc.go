// Package clock is the one source of time that is injected into the hub and
// into poll, and nowhere else: rules, decoders and conversions get their time
// as an argument.
//
// System is the clock of a real bench. Story is the clock of the demo: it runs
// a stated number of times faster, and never leaps, so that a busy machine
// slows the story down instead of inventing a silence. Manual moves only when
// it is told to: for tests, and for the part of a story before the demo opens.
//
// It imports nothing of this module.
package clock
