package clock

import "golang.org/x/sys/unix"

// clock_gettime(2): "CLOCK_BOOTTIME … also includes any time that the system is
// suspended".
const bootClock = unix.CLOCK_BOOTTIME
