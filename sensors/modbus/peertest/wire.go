package peertest

import (
	_ "embed" // for the device's source
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/creack/pty"
	"golang.org/x/term"
)

//go:embed testdata/slave.c
var source string

// terminal is a pseudo-terminal whose user's side is also held open by us, so
// that the other side can be read before anyone has opened it.
type terminal struct{ master, user *os.File }

func openTerminal() (*terminal, error) {
	master, user, err := pty.Open()
	if err != nil {
		return nil, err
	}
	// Raw from the start: a terminal echoes what it is sent until someone sets
	// it otherwise.
	if _, err := term.MakeRaw(int(user.Fd())); err != nil {
		master.Close()
		user.Close()
		return nil, err
	}
	return &terminal{master, user}, nil
}

// close ends the terminal for whoever has it open. A read of the master that
// is under way holds it open, and goes on until a byte comes: it gets one.
func (p *terminal) close() {
	p.master.Close()
	p.user.Write([]byte{0})
	p.user.Close()
}

// wire links two pseudo-terminals.
type wire struct {
	path   string
	device *terminal

	mu   sync.Mutex // guards host, which is nil while unplugged
	host *terminal
	done sync.WaitGroup
}

// newWire makes a wire and gives the path of the host's side of it.
func newWire(t testing.TB) (*wire, string) {
	t.Helper()
	device, err := openTerminal()
	if err != nil {
		t.Skipf("peertest: no pseudo-terminals here: %v", err)
	}
	w := &wire{path: filepath.Join(t.TempDir(), "port"), device: device}
	if err := w.plug(); err != nil {
		device.close()
		t.Skipf("peertest: no second pseudo-terminal here: %v", err)
	}
	// Bytes from the device go to whatever is plugged in, and are lost else.
	w.done.Go(func() {
		buffer := make([]byte, 512)
		for {
			n, err := device.master.Read(buffer)
			if err != nil {
				return
			}
			if host := w.plugged(); host != nil {
				host.master.Write(buffer[:n])
			}
		}
	})
	t.Cleanup(func() {
		w.unplug()
		device.close()
		w.done.Wait()
	})
	return w, w.path
}

// deviceEnd is what the device opens.
func (w *wire) deviceEnd() string { return w.device.user.Name() }

// plugged is the host's side that is plugged in now, or nil.
func (w *wire) plugged() *terminal {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.host
}

// plug makes the host's side and the link to it.
func (w *wire) plug() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.host != nil {
		return fmt.Errorf("it is plugged in already")
	}
	host, err := openTerminal()
	if err != nil {
		return err
	}
	if err := os.Symlink(host.user.Name(), w.path); err != nil {
		host.close()
		return err
	}
	w.host = host
	w.done.Go(func() {
		buffer := make([]byte, 512)
		for {
			n, err := host.master.Read(buffer)
			if err != nil || w.plugged() != host {
				return
			}
			if _, err := w.device.master.Write(buffer[:n]); err != nil {
				return
			}
		}
	})
	return nil
}

// unplug takes the host's side away.
func (w *wire) unplug() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.host == nil {
		return nil
	}
	w.host.close()
	w.host = nil
	return os.Remove(w.path)
}
