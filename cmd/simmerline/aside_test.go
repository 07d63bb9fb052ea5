package main

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// pausedWriter is a terminal that has been paused.
type pausedWriter struct {
	resumed chan struct{}
	bytes.Buffer
}

func (w *pausedWriter) Write(p []byte) (int, error) {
	<-w.resumed
	return w.Buffer.Write(p)
}

func TestPausedTerminalHoldsUpNobody(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := &pausedWriter{resumed: make(chan struct{})}
		a := newAside(w)
		for i := range 3 * asideRoom {
			fmt.Fprintf(a, "line %d\n", i) // a bubble that waits for ever is a failure
		}
		close(w.resumed)
		synctest.Wait()
		fmt.Fprintln(a, "after")
		a.close()
		got := w.String()
		for _, part := range []string{"line 0\n", "line 500\n", "lines could not be shown)\n", "after\n"} {
			if !strings.Contains(got, part) {
				t.Errorf("%q is missing", part)
			}
		}
	})
}

func TestClosingWaitsForNoPausedTerminal(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := &pausedWriter{resumed: make(chan struct{})}
		a := newAside(w)
		fmt.Fprintln(a, "never shown")
		begun := time.Now()
		a.close()
		if waited := time.Since(begun); waited > asideEnds {
			t.Errorf("it waited %s", waited)
		}
		close(w.resumed)
	})
}
