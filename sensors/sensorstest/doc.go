// Package sensorstest gives tests of drivers a wire without hardware.
//
// Four parts, each usable alone:
//
//   - a Recording is the traffic of a link as text, kept in testdata/serial as
//     *.rec files; ParseRecording reads one and String writes one;
//   - Playback is a link that plays a recording: it expects what was written,
//     hands out what was answered at its time, and fails the test when traffic
//     is left over; Recorder is a link in front of another that keeps what
//     passes as a Recording;
//   - the faults (FlipBits, Drop, Duplicate, Echo, Noise) damage bytes the way
//     wires do; each is a pure function of its seed;
//   - Reference reads a published table of testdata/reference, for tests of any
//     package.
//
// A recording has one event on a line; "#" begins a comment:
//
//	> 0ms 11 03 00 6B 00 03 76 87      written by the driver
//	< 12ms 11 03 06 02 2B 00 00        arrived; offsets never run backwards
//	< 14ms "hot=68.4\r\n"              text may be quoted as in Go
//	! 3s unplugged                     the link ends: unplugged or closed
//
// Offsets are those of the last byte. When a recording is played, what a device
// answers comes as long after the question as it did when recorded, whenever
// the driver under test puts it.
//
// The package imports sensors, and testing: only tests may import it.
package sensorstest
