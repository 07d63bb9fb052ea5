// Package peertest is an independent Modbus RTU device for tests: a small C
// program around libmodbus, which shares no line with our own protocol code,
// serving registers over a pseudo-terminal.
//
// Start builds the program from testdata/slave.c with cc and pkg-config, and
// skips the test with a word where they or libmodbus are absent. The program
// holds one end of a pair of linked pseudo-terminals; whoever is under test
// opens the other, by the path that Device.Path gives:
//
//	slave.c ── pseudo-terminal A ── (a goroutine copies) ── pseudo-terminal B ── Device.Path
//
// Path is a link that stays the same while Unplug takes the pseudo-terminal
// behind it away and Plug puts another there, as with an adapter under a
// by-id name.
//
// The device has 1000 coils, discrete inputs, holding registers and input
// registers, all 0 at first; whatever lies beyond is refused by libmodbus with
// exception 02. The Set methods change them; each returns when the device has
// taken the change. Corrupt, Mute, Refuse and Delay make it misbehave.
//
// Everything here passes in real time, as reads from a pseudo-terminal must.
//
// The package imports testing, so only tests may import it; of this module it
// imports nothing.
package peertest
