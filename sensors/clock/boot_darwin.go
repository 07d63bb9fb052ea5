package clock

import "golang.org/x/sys/unix"

// On macOS CLOCK_MONOTONIC goes on while the system sleeps, unlike the uptime
// clock that the Go runtime reads.
const bootClock = unix.CLOCK_MONOTONIC
