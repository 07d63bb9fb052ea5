//go:build linux || darwin

package clock

import (
	"time"

	"golang.org/x/sys/unix"
)

// sinceBoot reads the system's clock that counts sleep too; ok is false where
// the kernel refuses it.
func sinceBoot() (d time.Duration, ok bool) {
	var spec unix.Timespec
	if err := unix.ClockGettime(bootClock, &spec); err != nil {
		return 0, false
	}
	return time.Duration(spec.Nano()), true
}
