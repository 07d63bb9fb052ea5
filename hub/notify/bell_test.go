package notify

import (
	"errors"
	"io"
	"os"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

func noTerminal() (io.WriteCloser, error) { return nil, errNoTerminal }

// fakeTerminal notes when it was rung.
type fakeTerminal struct {
	rung   []time.Duration
	began  time.Time
	held   chan struct{} // while open, a write waits for it to close
	goes   int           // after so many rings it is gone; 0 means never
	closed int
}

func (f *fakeTerminal) Write(p []byte) (int, error) {
	if f.held != nil {
		<-f.held
	}
	if f.goes > 0 && len(f.rung) == f.goes {
		return 0, os.ErrClosed
	}
	if string(p) != "\a" {
		return 0, errors.New("that is not a BEL")
	}
	f.rung = append(f.rung, time.Since(f.began))
	return len(p), nil
}

func (f *fakeTerminal) Close() error { f.closed++; return nil }

func (f *fakeTerminal) open() (io.WriteCloser, error) { return f, nil }

func TestBellRingsThePattern(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		terminal := &fakeTerminal{began: time.Now()}
		b := &bell{open: terminal.open}
		defer b.close()
		p, err := b.start(Danger)
		if err != nil {
			t.Fatal(err)
		}
		time.Sleep(2 * time.Second)
		p.stop()
		p.stop() // once more does nothing
		time.Sleep(time.Minute)
		const ms = time.Millisecond
		want := []time.Duration{0, 460 * ms, 740 * ms, 1100 * ms, 1560 * ms, 1840 * ms}
		if len(terminal.rung) != len(want) {
			t.Fatalf("rung at %v, want %v", terminal.rung, want)
		}
		for i := range want {
			if terminal.rung[i] != want[i] {
				t.Errorf("rung at %v, want %v", terminal.rung, want)
			}
		}
	})
}

func TestBellIsOverWithItsSound(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, tt := range []struct {
			level Level
			rings int
		}{{Notice, 1}, {Test, 4}, {Warning, 16}, {Danger, 42}} {
			terminal := &fakeTerminal{began: time.Now()}
			b := &bell{open: terminal.open}
			p, err := b.start(tt.level)
			if err != nil {
				t.Fatal(err)
			}
			<-p.ended
			meant := (&sound{level: tt.level}).length()
			if p.err != nil || time.Since(terminal.began) != meant || len(terminal.rung) != tt.rings {
				t.Errorf("%s: %d rings in %v, %v; want %d in %v", tt.level, len(terminal.rung),
					time.Since(terminal.began), p.err, tt.rings, meant)
			}
			b.close()
		}
	})
}

func TestBellOfATerminalThatIsHeld(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		terminal := &fakeTerminal{began: time.Now(), held: make(chan struct{})}
		b := &bell{open: terminal.open}
		defer b.close()
		for range 2 {
			before := time.Now()
			if _, err := b.start(Danger); err == nil || !strings.Contains(err.Error(), "Ctrl-S") {
				t.Errorf("got %v", err)
			}
			if waited := time.Since(before); waited != bellWithin {
				t.Errorf("waited %v, want %v", waited, bellWithin)
			}
		}
		close(terminal.held)
		synctest.Wait()
		p, err := b.start(Danger)
		if err != nil {
			t.Fatal(err)
		}
		p.stop()
		if len(terminal.rung) != 1 {
			t.Errorf("rung %d times, want the one that was held", len(terminal.rung))
		}
	})
}

func TestBellOfATerminalThatGoes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		terminal := &fakeTerminal{began: time.Now(), goes: 2}
		b := &bell{open: terminal.open}
		p, err := b.start(Danger)
		if err != nil {
			t.Fatal(err)
		}
		<-p.ended
		if !errors.Is(p.err, os.ErrClosed) || terminal.closed != 1 {
			t.Errorf("ended with %v, closed %d times", p.err, terminal.closed)
		}
		if err := b.probe(t.Context()); err != nil {
			t.Errorf("a terminal that is there again: %v", err)
		}
		b.open = noTerminal
		if err := b.probe(t.Context()); !errors.Is(err, errNoTerminal) {
			t.Errorf("without a terminal: %v", err)
		}
		if _, err := b.start(Danger); !errors.Is(err, errNoTerminal) {
			t.Errorf("without a terminal: %v", err)
		}
	})
}
