package clock

import "time"

// System is the clock of a real bench. Its offset is measured by the Go
// runtime's monotonic clock, so steps of the wall clock don't reach it.
type System struct {
	start time.Time
	boot  func() (time.Duration, bool)
}

// NewSystem starts a run: Now is 0 at this moment.
func NewSystem() *System {
	return &System{start: time.Now(), boot: sinceBoot}
}

// Now is the offset since NewSystem. On Linux and macOS it stands still while
// the machine is suspended.
func (s *System) Now() time.Duration { return time.Since(s.start) }

// Wall is the system's date and time.
func (s *System) Wall() time.Time { return time.Now() }

// SinceBoot counts on through a suspend on Linux (CLOCK_BOOTTIME) and macOS
// (CLOCK_MONOTONIC, which there counts sleep). Elsewhere it is Now: on Windows
// the runtime's monotonic clock itself counts on through sleep, so a sleep
// shows there as one long step of Now.
func (s *System) SinceBoot() time.Duration {
	if d, ok := s.boot(); ok {
		return d
	}
	return s.Now()
}

// NewTimer fires once after d.
func (s *System) NewTimer(d time.Duration) Timer { return systemTimer{time.NewTimer(d)} }

// Real is d itself.
func (s *System) Real(d time.Duration) time.Duration { return d }

type systemTimer struct{ timer *time.Timer }

func (t systemTimer) C() <-chan time.Time { return t.timer.C }
func (t systemTimer) Stop()               { t.timer.Stop() }
