package simbench

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"

	"simmerline/sensors/clock"
)

// ErrNoPseudoTerminals means that this system has no pseudo-terminals; Open
// serves instead.
var ErrNoPseudoTerminals = errors.New("simbench: this system has no pseudo-terminals")

// Wires is the bench plugged into pseudo-terminals, each under a stable name in
// one folder. An adapter that is pulled out takes its name and node away; put
// back, it comes up as a new node under the old name.
type Wires struct {
	bench *Bench
	clock clock.Clock
	dir   string

	mu   sync.Mutex         // guards what follows
	ends [portCount]wireEnd // nil where nothing is plugged in
	lags [portCount]lag
}

// wireEnd is the device's end of one pseudo-terminal.
type wireEnd interface {
	// read waits for what the hub sends; it fails once the end is closed.
	read(p []byte) (int, error)
	// write sends without waiting. Where nobody has read for so long that the
	// terminal is full, what lies unread is lost, as on a closed serial port.
	write(p []byte) error
	close() error
	// unread says whether bytes lie at either side that were sent and not read,
	// and how often so far what nobody read was lost.
	unread() (lies bool, losses int)
	// node is the terminal's name in the system.
	node() string
}

// Plug makes a pseudo-terminal for every port that is plugged in now, named in
// the folder dir, which must exist. The clock's offsets must be those of the
// story. Run must follow: it owns the terminals from then on.
func (b *Bench) Plug(dir string, clk clock.Clock) (*Wires, error) {
	w := &Wires{bench: b, clock: clk, dir: dir}
	for _, s := range b.stations {
		if !b.plugged(s.port, clk.Now()) {
			continue
		}
		if err := w.plug(s); err != nil {
			w.unplugAll()
			return nil, err
		}
	}
	return w, nil
}

// Node is the stable name of a port's terminal, for a bench file's device path.
func (w *Wires) Node(port string) string { return filepath.Join(w.dir, port) }

// Run plays the devices until ctx is done, and then takes the terminals away.
func (w *Wires) Run(ctx context.Context) error {
	defer w.unplugAll()
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var group sync.WaitGroup
	failed := make(chan error, portCount)
	for _, s := range w.bench.stations {
		group.Go(func() {
			if err := w.play(ctx, s); err != nil {
				failed <- err
				cancel()
			}
		})
	}
	group.Wait()
	select {
	case err := <-failed:
		return err
	default:
		return nil
	}
}

// play runs one port through plugging in and pulling out.
func (w *Wires) play(ctx context.Context, s *station) error {
	for ctx.Err() == nil {
		now := w.clock.Now()
		if !w.bench.plugged(s.port, now) {
			if err := waitBy(w.clock, w.bench.nextStep(now), s.poke, ctx.Done()); err != nil {
				return nil
			}
			continue
		}
		if w.end(s) == nil {
			if err := w.plug(s); err != nil {
				return err
			}
		}
		s.discard(w.clock.Now())
		err := w.talk(ctx, s, w.end(s))
		w.unplug(s)
		if err != nil {
			return fmt.Errorf("simbench: port %s: %w", s.name, err)
		}
	}
	return nil
}

// talk carries bytes both ways until the port is pulled out or ctx is done.
func (w *Wires) talk(ctx context.Context, s *station, end wireEnd) error {
	var listening sync.WaitGroup
	listening.Go(func() {
		buffer := make([]byte, 512)
		for {
			n, err := end.read(buffer)
			if err != nil {
				return // closed
			}
			s.receive(w.clock.Now(), buffer[:n])
		}
	})
	defer listening.Wait()
	defer end.close()
	var out []byte
	for {
		now := w.clock.Now()
		if !w.bench.plugged(s.port, now) {
			return nil
		}
		got, next := s.due(now, out[:0])
		out = got
		if len(out) > 0 {
			if err := end.write(out); err != nil {
				return err
			}
		}
		if err := waitBy(w.clock, min(next, w.bench.nextStep(now)), s.poke, ctx.Done()); err != nil {
			return nil
		}
	}
}

func (w *Wires) plug(s *station) error {
	end, err := openWire()
	if err != nil {
		return err
	}
	name := w.Node(s.name)
	// A link that was left over would point at some other terminal by now.
	if err := os.Remove(name); err != nil && !errors.Is(err, os.ErrNotExist) {
		return errors.Join(fmt.Errorf("simbench: make way for port %s: %w", s.name, err), end.close())
	}
	if err := os.Symlink(end.node(), name); err != nil {
		return errors.Join(fmt.Errorf("simbench: name the terminal of port %s: %w", s.name, err), end.close())
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.ends[s.port] = end
	return nil
}

// end is what is plugged in at a station, nil for nothing.
func (w *Wires) end(s *station) wireEnd {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.ends[s.port]
}

// unplug takes a port's name away and its terminal with it.
func (w *Wires) unplug(s *station) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if end := w.ends[s.port]; end != nil {
		// Both may be gone already, which is all that is wanted.
		_ = os.Remove(w.Node(s.name))
		_ = end.close()
		w.ends[s.port] = nil
	}
}

func (w *Wires) unplugAll() {
	for _, s := range w.bench.stations {
		w.unplug(s)
	}
}
