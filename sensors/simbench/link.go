package simbench

import (
	"time"

	"simmerline/sensors"
)

// pace is how a link waits: by a clock, or by being told where the story stands.
type pace interface {
	now() time.Duration
	// wait returns at the offset or when poked; its error, ErrClosed or
	// ErrTimeout, ends the read.
	wait(until time.Duration, poke <-chan struct{}) error
}

// memoryLink is a wire in memory: what a driver sees of a device where there is
// no serial port between them.
type memoryLink struct {
	bench   *Bench
	station *station
	pace    pace
	pending []byte
}

var _ sensors.Link = (*memoryLink)(nil)

// Read gives what the device has sent, as soon as it has.
func (l *memoryLink) Read(p []byte, wait time.Duration) (int, time.Duration, error) {
	now := l.pace.now()
	deadline := now + max(wait, 0)
	for {
		if !l.bench.plugged(l.station.port, now) {
			l.pending = nil
			return 0, now, sensors.ErrUnplugged
		}
		next := now
		if len(l.pending) == 0 {
			l.pending, next = l.station.due(now, l.pending[:0])
		}
		if n := copy(p, l.pending); n > 0 {
			l.pending = l.pending[n:]
			return n, now, nil
		}
		if now >= deadline {
			return 0, now, sensors.ErrTimeout
		}
		until := min(deadline, next, l.bench.nextStep(now))
		if err := l.pace.wait(until, l.station.poke); err != nil {
			return 0, l.pace.now(), err
		}
		now = l.pace.now()
	}
}

// Write hands bytes to the device, which has them at once.
func (l *memoryLink) Write(p []byte) error {
	now := l.pace.now()
	if !l.bench.plugged(l.station.port, now) {
		return sensors.ErrUnplugged
	}
	l.station.receive(now, p)
	return nil
}

// Discard loses what was sent and not read.
func (l *memoryLink) Discard() error {
	now := l.pace.now()
	if !l.bench.plugged(l.station.port, now) {
		return sensors.ErrUnplugged
	}
	l.pending = l.pending[:0]
	l.station.discard(now)
	return nil
}
