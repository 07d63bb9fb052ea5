//go:build unix

package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/creack/pty"
	"golang.org/x/term"
)

// board is a microcontroller that prints lines over a pseudo-terminal behind a
// link, as the system's own links lead to an adapter.
type board struct {
	t    testing.TB
	path string

	mu     sync.Mutex // guards all below; a line is written whole under it
	master *os.File   // nil while unplugged
	text   string     // what it prints by itself, without the check
	done   sync.WaitGroup
	stop   chan struct{}
}

// newBoard makes a board that is not plugged in yet. Plugged in, it prints the
// text ten times a second, each line with its check.
func newBoard(t testing.TB, text string) *board {
	t.Helper()
	b := &board{t: t, path: filepath.Join(t.TempDir(), "board"), text: text, stop: make(chan struct{})}
	b.done.Go(func() {
		beat := time.NewTicker(100 * time.Millisecond)
		defer beat.Stop()
		for {
			select {
			case <-beat.C:
				b.mu.Lock()
				b.write(checked(b.text))
				b.mu.Unlock()
			case <-b.stop:
				return
			}
		}
	})
	t.Cleanup(func() {
		close(b.stop)
		b.unplug() // ends a write that nobody reads
		b.done.Wait()
	})
	return b
}

// checked is a line with its check and its end: the XOR of all bytes before the "*".
func checked(text string) string {
	var check byte
	for i := range len(text) {
		check ^= text[i]
	}
	return fmt.Sprintf("%s*%02X\n", text, check)
}

// write writes where there is something to write to. b.mu is held. A plug that
// is pulled meanwhile is no fault.
func (b *board) write(text string) {
	if b.master == nil {
		return
	}
	if _, err := b.master.WriteString(text); err != nil && !errors.Is(err, os.ErrClosed) {
		b.t.Errorf("the board can't print: %v", err)
	}
}

// print prints something at once, as it is.
func (b *board) print(text string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.write(text)
}

// show changes what it prints by itself.
func (b *board) show(text string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.text = text
	b.write(checked(text))
}

// plug makes a new terminal behind the link.
func (b *board) plug() {
	b.t.Helper()
	master, slave, err := pty.Open()
	if err != nil {
		b.t.Skipf("no pseudo-terminals here: %v", err)
	}
	defer slave.Close()
	if _, err := term.MakeRaw(int(slave.Fd())); err != nil {
		b.t.Fatal(err)
	}
	if err := os.Symlink(slave.Name(), b.path); err != nil {
		b.t.Fatal(err)
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.master = master
}

// unplug takes terminal and link away.
func (b *board) unplug() {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.master == nil {
		return
	}
	if err := errors.Join(os.Remove(b.path), b.master.Close()); err != nil {
		b.t.Errorf("unplug the board: %v", err)
	}
	b.master = nil
}
