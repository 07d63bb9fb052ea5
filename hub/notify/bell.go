package notify

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"golang.org/x/term"
)

// bellWithin bounds one ring: a terminal that is held (Ctrl-S) takes no byte.
const bellWithin = time.Second

var errNoTerminal = errors.New("the hub has no terminal whose bell could ring")

// bell rings a terminal: one BEL for each pulse of a pattern. Whether a BEL is
// heard is up to the terminal's settings. Apart from probe it is used by one
// goroutine at a time.
type bell struct {
	open     func() (io.WriteCloser, error)
	terminal io.WriteCloser // nil until opened, and after a failure
	writing  chan error     // what the write in hand will answer; nil when there is none
}

// openTerminal gives the hub's own terminal, or standard error if that is one.
func openTerminal() (io.WriteCloser, error) {
	if tty, err := os.OpenFile("/dev/tty", os.O_WRONLY, 0); err == nil {
		allowBell()
		return tty, nil
	}
	if term.IsTerminal(int(os.Stderr.Fd())) {
		allowBell()
		return keptOpen{os.Stderr}, nil
	}
	return nil, errNoTerminal
}

// keptOpen is a stream that is not ours to close.
type keptOpen struct{ io.Writer }

func (keptOpen) Close() error { return nil }

func (b *bell) name() string { return "bell" }

// probe finds out whether there is a terminal. It does not ring: nobody wants a
// bell every few minutes.
func (b *bell) probe(context.Context) error {
	terminal, err := b.open()
	if err != nil {
		return err
	}
	return terminal.Close()
}

// start rings once, and goes on by itself at each further pulse.
func (b *bell) start(level Level) (*playing, error) {
	if err := b.ring(); err != nil {
		return nil, err
	}
	pattern, _ := PatternOf(level)
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan struct{})
	p := &playing{ended: ended, stop: func() { cancel(); <-ended }}
	go func() {
		defer close(ended)
		defer cancel()
		timer := time.NewTimer(pattern[0].On + pattern[0].Off)
		defer timer.Stop()
		for i := 1; ; i++ {
			select {
			case <-ctx.Done():
				return
			case <-timer.C:
			}
			if i == cyclesOf(level, alarmSpan)*len(pattern) {
				return
			}
			if p.err = b.ring(); p.err != nil {
				return
			}
			pulse := pattern[i%len(pattern)]
			timer.Reset(pulse.On + pulse.Off)
		}
	}()
	return p, nil
}

// ring writes one BEL. The write is on a goroutine of its own, so that a
// terminal that takes nothing holds up nobody; the next ring waits for the same
// write and begins no second one.
func (b *bell) ring() error {
	if b.terminal == nil {
		terminal, err := b.open()
		if err != nil {
			return err
		}
		b.terminal = terminal
	}
	if b.writing == nil {
		answer, terminal := make(chan error, 1), b.terminal
		b.writing = answer
		go func() {
			_, err := terminal.Write([]byte{'\a'})
			answer <- err
		}()
	}
	limit := time.NewTimer(bellWithin)
	defer limit.Stop()
	select {
	case err := <-b.writing:
		b.writing = nil
		if err != nil {
			b.close()
			return fmt.Errorf("the terminal's bell can't be rung: %w", err)
		}
		return nil
	case <-limit.C:
		return fmt.Errorf("the terminal takes no output (held by Ctrl-S?): no bell within %v", bellWithin)
	}
}

func (b *bell) close() {
	if b.terminal != nil {
		_ = b.terminal.Close()
		b.terminal = nil
	}
}
