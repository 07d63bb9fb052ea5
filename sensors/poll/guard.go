package poll

import (
	"sync/atomic"
	"time"

	"simmerline/sensors"
)

// guard stands between a driver and its port. It notes what comes and that
// calls come back, and ends the driver's exchange when the port is given up.
type guard struct {
	port   Port
	closed bool // used by its owner only
	ended  atomic.Bool
	calls  atomic.Uint64 // that have come back
	heard  atomic.Int64  // offset of the last bytes; the open at first
}

func newGuard(port Port, opened time.Duration) *guard {
	g := &guard{port: port}
	g.heard.Store(int64(opened))
	return g
}

// end makes every further call of the driver fail with ErrClosed.
func (g *guard) end() { g.ended.Store(true) }

func (g *guard) lastHeard() time.Duration { return time.Duration(g.heard.Load()) }

// Read reads from the port.
func (g *guard) Read(p []byte, wait time.Duration) (int, time.Duration, error) {
	if g.ended.Load() {
		return 0, g.lastHeard(), sensors.ErrClosed
	}
	n, at, err := g.port.Read(p, wait)
	g.calls.Add(1)
	if n > 0 {
		g.heard.Store(int64(at))
	}
	return n, at, err
}

// Write writes to the port.
func (g *guard) Write(p []byte) error {
	if g.ended.Load() {
		return sensors.ErrClosed
	}
	defer g.calls.Add(1)
	return g.port.Write(p)
}

// Discard discards what the port holds.
func (g *guard) Discard() error {
	if g.ended.Load() {
		return sensors.ErrClosed
	}
	defer g.calls.Add(1)
	return g.port.Discard()
}
