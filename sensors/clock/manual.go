package clock

import (
	"sync"
	"time"
)

// Manual is a clock that stands still until it is told to move, for tests and
// for running through the part of a story that comes before the demo opens. It
// is safe for concurrent use.
type Manual struct {
	wallAtZero time.Time

	mu        sync.Mutex
	now       time.Duration
	suspended time.Duration
	timers    timers
}

// NewManual makes a clock that stands at the offset start; wallAtZero is the
// date and time at offset 0.
func NewManual(start time.Duration, wallAtZero time.Time) *Manual {
	return &Manual{wallAtZero: wallAtZero, now: start}
}

// Advance moves the clock on by d and fires, in order, each timer that becomes
// due on the way. A d of 0 or less moves nothing, since Now never runs back.
func (m *Manual) Advance(d time.Duration) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.now += max(d, 0)
	m.timers.fire(m.now, m.wallAt)
}

// Suspend lets the machine sleep for d: SinceBoot and Wall count on, Now stands.
func (m *Manual) Suspend(d time.Duration) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.suspended += max(d, 0)
}

// Now is where the clock stands.
func (m *Manual) Now() time.Duration {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.now
}

// Wall is the date and time of this moment.
func (m *Manual) Wall() time.Time {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.wallAt(m.now)
}

// wallAt is the date of an offset that lies in the present stretch of wakefulness.
func (m *Manual) wallAt(offset time.Duration) time.Time {
	return m.wallAtZero.Add(offset + m.suspended)
}

// SinceBoot is Now plus all sleep.
func (m *Manual) SinceBoot() time.Duration {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.now + m.suspended
}

// NewTimer fires once d after now; at once when d is 0 or less.
func (m *Manual) NewTimer(d time.Duration) Timer {
	m.mu.Lock()
	defer m.mu.Unlock()
	f := m.timers.add(m.now + d)
	m.timers.fire(m.now, m.wallAt)
	return manualTimer{m, f}
}

// Real is d itself.
func (m *Manual) Real(d time.Duration) time.Duration { return d }

type manualTimer struct {
	clock  *Manual
	firing *firing
}

func (t manualTimer) C() <-chan time.Time { return t.firing.c }

func (t manualTimer) Stop() {
	t.clock.mu.Lock()
	defer t.clock.mu.Unlock()
	t.clock.timers.remove(t.firing)
}
