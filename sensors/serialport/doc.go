// Package serialport opens serial ports and tells which device is which. It is
// the only package that imports a serial library, and the place where what an
// operating system says of a port becomes one of the errors of package sensors.
//
// What the library and the systems do, and what becomes of it here:
//
//   - A read that brings no byte and no error is a time-out (ErrTimeout). It is
//     never an end, and the raw port is never handed to an io helper that would
//     take it for one.
//   - Any error of a read or write means that the device has gone
//     (ErrUnplugged), unless Close was called first (ErrClosed): the library
//     gives one and the same error for both.
//   - On Windows an unplugged device may merely fall silent; Present asks the
//     system whether it still knows the port.
//   - A device is opened by one program at a time: a lock in the manner of
//     flock(2) on the device node itself, where the system has it, besides the
//     library's own exclusive mode.
//   - The DTR and RTS lines are set only where the bench file asks for it. Many
//     boards restart when they are opened, whatever is asked for.
//
// A pseudo-terminal stands in for a device in tests and in the demo. Closing
// its master end looks to the slave end as a pulled plug does: a read ends with
// no bytes, and the node vanishes. It has no modem lines: asking for DTR or RTS
// makes its open fail.
//
// Finder lists the ports and finds the one an address means. On Linux it reads
// the kernel's own tables and opens no port. On Windows, and on macOS when built
// with cgo, it asks the library; on macOS without cgo it knows the names of the
// nodes only.
//
// The package imports sensors and sensors/clock.
package serialport
