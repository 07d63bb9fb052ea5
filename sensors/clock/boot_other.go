//go:build !linux && !darwin

package clock

import "time"

// sinceBoot has no clock to read here; System then gives Now.
func sinceBoot() (d time.Duration, ok bool) { return 0, false }
