//go:build unix

package simbench

import (
	"errors"
	"fmt"
	"os"
	"sync"
	"sync/atomic"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
	"golang.org/x/term"
)

// ptyEnd is a pseudo-terminal. We hold its far side open too: else the near
// side would fail whenever the hub has not opened it, which on a real adapter
// is no fault.
type ptyEnd struct {
	near, far *os.File
	name      string
	once      sync.Once // closes near and far
	unheard   int       // writes in a row that found earlier ones unread
	losses    atomic.Int64
}

// unheardWrites is how many writes may pile up before nobody counts as reading:
// eight seconds of a device that prints each second. A real port that nobody
// has open keeps nothing, and an old line must not pass for news.
const unheardWrites = 8

// openWire makes a pseudo-terminal that passes every byte as it is.
func openWire() (wireEnd, error) {
	near, far, err := pty.Open()
	if errors.Is(err, pty.ErrUnsupported) {
		return nil, ErrNoPseudoTerminals
	}
	if err != nil {
		return nil, fmt.Errorf("simbench: open a pseudo-terminal: %w", err)
	}
	name := far.Name()
	// Before raw mode a terminal echoes and edits, and would answer our own
	// bytes back to the device.
	_, err = term.MakeRaw(int(far.Fd()))
	if err == nil {
		near, err = pollable(near)
	}
	if err == nil {
		far, err = pollable(far)
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("simbench: prepare the pseudo-terminal %s: %w", name, err), near.Close(), far.Close())
	}
	return &ptyEnd{near: near, far: far, name: name}, nil
}

// pollable gives the file in a form whose reads end when it is closed, and
// closes the one given. On an error it gives back the one given.
func pollable(f *os.File) (*os.File, error) {
	fd, err := unix.FcntlInt(f.Fd(), unix.F_DUPFD_CLOEXEC, 0)
	if err != nil {
		return f, err
	}
	if err := unix.SetNonblock(fd, true); err != nil {
		return f, errors.Join(err, unix.Close(fd))
	}
	name := f.Name()
	if err := f.Close(); err != nil {
		return f, errors.Join(err, unix.Close(fd))
	}
	return os.NewFile(uintptr(fd), name), nil
}

func (p *ptyEnd) node() string { return p.name }

func (p *ptyEnd) read(b []byte) (int, error) { return p.near.Read(b) }

func (p *ptyEnd) write(b []byte) error {
	waiting, err := lies(p.far)
	if err != nil {
		return err
	}
	if p.unheard++; !waiting {
		p.unheard = 0
	}
	if p.unheard >= unheardWrites {
		if err := p.lose(); err != nil {
			return err
		}
	}
	for full := false; len(b) > 0; {
		n, err := call(p.near, b, unix.Write)
		switch {
		case err == nil && n > 0:
			b = b[n:]
		case errors.Is(err, unix.EAGAIN) && !full:
			full = true
			if err := p.lose(); err != nil {
				return err
			}
		case errors.Is(err, unix.EAGAIN):
			return nil // still full: these bytes are lost as well
		case err != nil && !errors.Is(err, unix.EINTR):
			return fmt.Errorf("write: %w", err)
		}
	}
	return nil
}

// unread takes a side that can't be asked for one that has been read: it is
// being closed.
func (p *ptyEnd) unread() (found bool, losses int) {
	atHub, _ := lies(p.far)
	atDevice, _ := lies(p.near)
	return atHub || atDevice, int(p.losses.Load())
}

// lies says whether something can be read from a side of the terminal.
func lies(side *os.File) (bool, error) {
	n, err := call(side, nil, func(fd int, _ []byte) (int, error) {
		polled := []unix.PollFd{{Fd: int32(fd), Events: unix.POLLIN}}
		return unix.Poll(polled, 0)
	})
	if errors.Is(err, unix.EINTR) {
		return false, nil // it will be seen at the next write
	}
	if err != nil {
		return false, fmt.Errorf("poll: %w", err)
	}
	return n > 0, nil
}

// lose reads away all that lies unread on the far side.
func (p *ptyEnd) lose() error {
	p.losses.Add(1)
	scrap := make([]byte, 4096)
	for {
		n, err := call(p.far, scrap, unix.Read)
		switch {
		case errors.Is(err, unix.EAGAIN), err == nil && n <= 0:
			return nil
		case err != nil && !errors.Is(err, unix.EINTR):
			return fmt.Errorf("discard: %w", err)
		}
	}
}

// call makes one call on the file's descriptor, without waiting for it.
func call(f *os.File, b []byte, do func(int, []byte) (int, error)) (n int, err error) {
	raw, err := f.SyscallConn()
	if err != nil {
		return 0, err
	}
	controlErr := raw.Control(func(fd uintptr) { n, err = do(int(fd), b) })
	return n, errors.Join(controlErr, err)
}

func (p *ptyEnd) close() error {
	var err error
	p.once.Do(func() { err = errors.Join(p.near.Close(), p.far.Close()) })
	return err
}
