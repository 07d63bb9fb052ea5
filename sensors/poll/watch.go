package poll

import (
	"context"
	"errors"
	"time"

	"simmerline/sensors"
)

// Limits in real time on what may hang in an operating system.
const (
	openLimit  = 10 * time.Second
	callLimit  = 10 * time.Second // without any call of a driver coming back
	roundLimit = time.Minute      // for a whole exchange, however busy
	closeLimit = 2 * time.Second
)

var (
	errOverrun = errors.New("poll: it did not come back in time")
	errStopped = errors.New("poll: the port is being stopped")
)

type opened struct {
	port   Port
	device string
	err    error
}

// open opens the port, watched. An open that comes back too late closes what it
// brought.
func (p *poller) open(ctx context.Context) (Port, string, error) {
	done := make(chan opened, 1)
	go func() {
		var o opened
		o.port, o.device, o.err = p.Open()
		done <- o
	}()
	limit := time.NewTimer(openLimit)
	defer limit.Stop()
	var late error
	select {
	case o := <-done:
		return o.port, o.device, o.err
	case <-ctx.Done():
		late = errStopped
	case <-limit.C:
		late = errOverrun
	}
	// What is left behind ends by itself once the system lets go of it.
	p.holding = make(chan struct{})
	go func(let chan struct{}) {
		defer close(let)
		if o := <-done; o.err == nil {
			o.port.Close()
		}
	}(p.holding)
	return nil, "", late
}

type exchanged struct {
	sensors.Exchanged
	err error
}

// exchange has the driver do one round, watched. When it is stopped or
// overruns, the port is closed under it; what it then still brings is dropped.
func (p *poller) exchange(ctx context.Context, g *guard) exchanged {
	done := make(chan exchanged, 1)
	go func() {
		var e exchanged
		e.Exchanged, e.err = p.Driver.Exchange(g)
		done <- e
	}()
	limit := time.NewTimer(callLimit)
	defer limit.Stop()
	calls := g.calls.Load()
	for begun := time.Now(); ; {
		select {
		case e := <-done:
			return e
		case <-ctx.Done():
			return p.abandon(g, done, errStopped)
		case <-limit.C:
			if now := g.calls.Load(); now != calls && time.Since(begun) < roundLimit {
				calls = now
				limit.Reset(callLimit)
				continue
			}
			return p.abandon(g, done, errOverrun)
		}
	}
}

// abandon closes the port under an exchange and waits a little for it to end.
func (p *poller) abandon(g *guard, done chan exchanged, why error) exchanged {
	g.end()
	p.close(g)
	limit := time.NewTimer(closeLimit)
	defer limit.Stop()
	select {
	case <-done:
	case <-limit.C:
		// The driver may still be at work, so nobody else may use it.
		p.holding = make(chan struct{})
		go func(let chan struct{}) {
			<-done
			close(let)
		}(p.holding)
	}
	return exchanged{err: why}
}

// close closes the port once, watched.
func (p *poller) close(g *guard) {
	if g.closed {
		return
	}
	g.closed = true
	done := make(chan error, 1)
	go func() { done <- g.port.Close() }()
	limit := time.NewTimer(closeLimit)
	defer limit.Stop()
	select {
	case <-done: // an error of a close changes nothing: the port is given up
	case <-limit.C:
		p.leftOpen++
	}
}
