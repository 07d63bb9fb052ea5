package simbench

import (
	"sync"
	"time"

	"simmerline/sensors"
	"simmerline/sensors/clock"
)

// MemoryPort is an open port of the bench without a serial port in between, for
// systems that have no pseudo-terminals. It goes by the clock it was opened
// with, whose offsets must be those of the story.
type MemoryPort struct {
	memoryLink
	clock clock.Clock
	done  chan struct{}
	once  sync.Once // closes done
}

// Open opens a port in memory. While its adapter is pulled out the error is a
// *sensors.OpenError of the kind ErrMissing. One port is to be opened only once
// at a time.
func (b *Bench) Open(port string, clk clock.Clock) (*MemoryPort, error) {
	s, err := b.station(port)
	if err != nil {
		return nil, err
	}
	now := clk.Now()
	if !b.plugged(s.port, now) {
		return nil, &sensors.OpenError{
			Kind: sensors.ErrMissing, Sentence: "the simulated adapter " + port + " is pulled out; the story puts it back",
		}
	}
	s.discard(now) // an adapter that nobody has open keeps nothing
	m := &MemoryPort{clock: clk, done: make(chan struct{})}
	m.memoryLink = memoryLink{bench: b, station: s, pace: m}
	return m, nil
}

// Close ends a read that waits, and every later one, with ErrClosed.
func (m *MemoryPort) Close() error {
	m.once.Do(func() { close(m.done) })
	return nil
}

func (m *MemoryPort) now() time.Duration { return m.clock.Now() }

func (m *MemoryPort) wait(until time.Duration, poke <-chan struct{}) error {
	return waitBy(m.clock, until, poke, m.done)
}

// waitBy waits by a clock until an offset, a poke or the end, which is ErrClosed.
func waitBy(clk clock.Clock, until time.Duration, poke, done <-chan struct{}) error {
	select {
	case <-done:
		return sensors.ErrClosed
	default:
	}
	if until == never {
		select {
		case <-poke:
			return nil
		case <-done:
			return sensors.ErrClosed
		}
	}
	timer := clk.NewTimer(until - clk.Now())
	defer timer.Stop()
	select {
	case <-timer.C():
		return nil
	case <-poke:
		return nil
	case <-done:
		return sensors.ErrClosed
	}
}
