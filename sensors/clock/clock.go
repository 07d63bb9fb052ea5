package clock

import "time"

// Clock is the one source of time of a running hub. Now never steps and never
// runs backwards; it is what every delay, window and age is measured by. Wall
// is only for people.
type Clock interface {
	// Now is the monotonic offset since this run began.
	Now() time.Duration
	// Wall is the date and time to show for this moment.
	Wall() time.Time
	// SinceBoot counts on while the machine is suspended, where the system can
	// tell; Now may not. The difference between the two growing means that the
	// machine slept.
	SinceBoot() time.Duration
	// NewTimer fires once, d after now on this clock.
	NewTimer(d time.Duration) Timer
	// Real converts a length of time on this clock to one on a real watch, for
	// calls into the operating system that take a time-out.
	Real(d time.Duration) time.Duration
}

// Timer is a pending firing of a clock.
type Timer interface {
	// C delivers one value when the timer fires.
	C() <-chan time.Time
	// Stop prevents the firing. It does nothing once the timer has fired.
	Stop()
}
