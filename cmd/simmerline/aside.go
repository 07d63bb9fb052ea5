package main

import (
	"fmt"
	"io"
	"sync"
	"time"
)

const (
	// asideRoom is how many lines wait for a reader that does not read.
	asideRoom = 512
	// asideEnds is how long close waits for such a reader.
	asideEnds = time.Second
)

// aside is a writer that never waits. A terminal that is paused, or a program
// that reads a hub's words slowly, would else hold up whatever goroutine says
// something, and one of them watches over the alarms.
type aside struct {
	to    io.Writer
	lines chan []byte
	stop  chan struct{}
	ended chan struct{}

	mu      sync.Mutex // guards dropped
	dropped int        // lines that found no room
}

// newAside starts the goroutine that writes; close ends it.
func newAside(to io.Writer) *aside {
	a := &aside{to: to, lines: make(chan []byte, asideRoom), stop: make(chan struct{}), ended: make(chan struct{})}
	go a.pass()
	return a
}

// Write takes a line, or drops it where too many wait. It never fails.
func (a *aside) Write(line []byte) (int, error) {
	select {
	case a.lines <- append([]byte(nil), line...):
	default:
		a.mu.Lock()
		a.dropped++
		a.mu.Unlock()
	}
	return len(line), nil
}

// pass writes lines until stop, and then those that still wait.
func (a *aside) pass() {
	defer close(a.ended)
	for {
		select {
		case line := <-a.lines:
			a.say(line)
		case <-a.stop:
			for {
				select {
				case line := <-a.lines:
					a.say(line)
				default:
					return
				}
			}
		}
	}
}

// say writes a line, and before it how many were dropped. Where the reader has
// gone, nobody is there to be told so.
func (a *aside) say(line []byte) {
	a.mu.Lock()
	dropped := a.dropped
	a.dropped = 0
	a.mu.Unlock()
	if dropped > 0 {
		_, _ = fmt.Fprintf(a.to, "(%d lines could not be shown)\n", dropped)
	}
	_, _ = a.to.Write(line)
}

// close writes what waits, if its reader takes it in time. Write may not be
// called after it.
func (a *aside) close() {
	close(a.stop)
	timer := time.NewTimer(asideEnds)
	defer timer.Stop()
	select {
	case <-a.ended:
	case <-timer.C:
	}
}
