// Package sensors holds the words that everything from the wire to the alarm
// shares: quantities with their units, a reading with its quality and reason,
// the link a driver reads from, and what a port has to say of itself.
//
// Five words, in the order a byte meets them:
//
//   - port: one serial device node, opened by serialport and owned by one
//     goroutine in poll;
//   - link: what a driver sees of that port: bytes with their time of arrival;
//   - driver: a protocol (lines, modbus) that turns bytes into raw numbers;
//   - channel: one measured thing with a name, a quantity and a credible range;
//   - reading: one number of one channel, with its time, quality and reason.
//
// The package is pure: it starts no goroutine, reads no clock, touches no file.
// It imports nothing of this module. Its subpackages may import it and the
// pure packages beside it; only serialport and poll do input and output, and
// only clock and poll keep time.
package sensors
