package serialport

import (
	"errors"
	"fmt"
	"io"
	"sync/atomic"
	"syscall"
	"time"

	"go.bug.st/serial"

	"simmerline/sensors"
	"simmerline/sensors/clock"
)

const (
	// readChunk is the longest single wait in the library, in real time, so that
	// Close need not end a read by force.
	readChunk = 100 * time.Millisecond
	// closePatience is how long Close waits for a read or write under way, in
	// real time, before it closes the port under it.
	closePatience = time.Second
	// spinPause is the rest, in real time, after a read that came back early with
	// nothing, as some drivers' do, so that it can't spin a processor.
	spinPause = 5 * time.Millisecond
)

// rawPort is what is used of the library's port.
type rawPort interface {
	io.ReadWriteCloser
	SetReadTimeout(time.Duration) error
	ResetInputBuffer() error
}

// Port is an open serial port. One goroutine at a time reads and writes; Close
// may come from another.
type Port struct {
	raw     rawPort
	lock    io.Closer
	clock   clock.Clock
	timeout time.Duration // as last set on raw; -1 for not yet

	using   chan struct{} // holds a token while raw is in use
	closed  atomic.Bool
	closing chan struct{} // closed by Close
}

var _ sensors.Link = (*Port)(nil)

// Open opens and locks a device node. Its error is a *sensors.OpenError whose
// sentence tells the mend.
func Open(device string, config sensors.SerialConfig, clk clock.Clock) (*Port, error) {
	mode, err := modeOf(config)
	if err != nil {
		return nil, &sensors.OpenError{Kind: sensors.ErrNotSerial, Device: device, Sentence: err.Error()}
	}
	lock, err := lockDevice(device)
	if err != nil {
		return nil, openError(device, err)
	}
	raw, err := openKept(device, mode, lock)
	if err != nil {
		lock.Close()
		return nil, openError(device, err)
	}
	return newPort(raw, lock, clk), nil
}

func newPort(raw rawPort, lock io.Closer, clk clock.Clock) *Port {
	return &Port{
		raw: raw, lock: lock, clock: clk, timeout: -1,
		using: make(chan struct{}, 1), closing: make(chan struct{}),
	}
}

// modeOf translates a port's settings. The library sets the modem lines only
// when told to, and then both: a line that is not mentioned is raised, as the
// system does by itself.
func modeOf(c sensors.SerialConfig) (*serial.Mode, error) {
	mode := &serial.Mode{BaudRate: c.Baud, DataBits: c.DataBits}
	if c.Baud <= 0 {
		return nil, fmt.Errorf("a rate of %d bits per second can't be; say baud: 9600, or what the device's manual gives", c.Baud)
	}
	if c.DataBits != 7 && c.DataBits != 8 {
		return nil, fmt.Errorf("%d data bits can't be; say 7 or 8", c.DataBits)
	}
	switch c.Parity {
	case sensors.ParityNone:
		mode.Parity = serial.NoParity
	case sensors.ParityOdd:
		mode.Parity = serial.OddParity
	case sensors.ParityEven:
		mode.Parity = serial.EvenParity
	default:
		return nil, fmt.Errorf("parity %d is not known; say none, odd or even", c.Parity)
	}
	switch c.StopBits {
	case 1:
		mode.StopBits = serial.OneStopBit
	case 2:
		mode.StopBits = serial.TwoStopBits
	default:
		return nil, fmt.Errorf("%d stop bits can't be; say 1 or 2", c.StopBits)
	}
	if c.DTR != nil || c.RTS != nil {
		mode.InitialStatusBits = &serial.ModemOutputBits{
			DTR: c.DTR == nil || *c.DTR,
			RTS: c.RTS == nil || *c.RTS,
		}
	}
	return mode, nil
}

// Read waits at most the given time for bytes. On a clock that runs fast the
// wait may be longer: what Real makes of it.
func (p *Port) Read(to []byte, wait time.Duration) (n int, at time.Duration, err error) {
	at = p.clock.Now()
	deadline := at + max(wait, 0)
	for {
		rest := max(min(p.clock.Real(deadline-at), readChunk), time.Millisecond)
		begun := time.Now() // on a real watch, as the library's time-out is
		n, err = p.readOnce(to, rest)
		at = p.clock.Now()
		switch {
		case n > 0:
			return n, at, nil
		case p.closed.Load():
			return 0, at, sensors.ErrClosed
		case err != nil:
			return 0, at, sensors.ErrUnplugged
		case at >= deadline:
			return 0, at, sensors.ErrTimeout
		case time.Since(begun) < rest/2:
			p.pause()
			at = p.clock.Now()
		}
	}
}

func (p *Port) readOnce(to []byte, timeout time.Duration) (int, error) {
	p.using <- struct{}{}
	defer func() { <-p.using }()
	if p.closed.Load() {
		return 0, sensors.ErrClosed
	}
	if timeout != p.timeout {
		if err := p.raw.SetReadTimeout(timeout); err != nil {
			return 0, err
		}
		p.timeout = timeout
	}
	return p.raw.Read(to)
}

// pause rests after a read that came back early.
func (p *Port) pause() {
	timer := time.NewTimer(spinPause)
	defer timer.Stop()
	select {
	case <-timer.C:
	case <-p.closing:
	}
}

// Write sends all of the bytes. No time-out can be set for it: whoever calls it
// watches how long it takes.
func (p *Port) Write(bytes []byte) error {
	p.using <- struct{}{}
	defer func() { <-p.using }()
	for len(bytes) > 0 {
		if p.closed.Load() {
			return sensors.ErrClosed
		}
		n, err := p.raw.Write(bytes)
		bytes = bytes[n:]
		if err != nil && !errors.Is(err, syscall.EINTR) {
			return p.failure()
		}
	}
	return nil
}

// Discard throws away what has arrived and was not read.
func (p *Port) Discard() error {
	p.using <- struct{}{}
	defer func() { <-p.using }()
	if p.closed.Load() {
		return sensors.ErrClosed
	}
	if err := p.raw.ResetInputBuffer(); err != nil {
		return p.failure()
	}
	return nil
}

// failure is what an error of the library means.
func (p *Port) failure() error {
	if p.closed.Load() {
		return sensors.ErrClosed
	}
	return sensors.ErrUnplugged
}

// Close ends a read under way with ErrClosed and closes the port. It waits a
// second at most for a driver that does not come back, and then closes the port
// under it; even that may hang in a driver, so whoever calls Close and can't
// wait calls it in a goroutine of its own. A second Close does nothing.
func (p *Port) Close() error {
	if p.closed.Swap(true) {
		return nil
	}
	close(p.closing)
	patience := time.NewTimer(closePatience) // the system's time, whatever the clock
	defer patience.Stop()
	select {
	case p.using <- struct{}{}:
		defer func() { <-p.using }()
	case <-patience.C:
	}
	err := p.raw.Close()
	return errors.Join(err, p.lock.Close())
}

// openError says in a sentence why a device could not be opened.
func openError(device string, cause error) *sensors.OpenError {
	e := &sensors.OpenError{Device: device}
	var coded *serial.PortError
	code := serial.PortErrorCode(-1)
	if errors.As(cause, &coded) {
		code = coded.Code()
	}
	switch {
	case code == serial.PortNotFound, errors.Is(cause, syscall.ENOENT), errors.Is(cause, errNoDevice):
		e.Kind = sensors.ErrMissing
		e.Sentence = fmt.Sprintf("%s is not there: plug the device in; what is plugged in is shown by: simmerline ports", device)
	case code == serial.PortBusy, errors.Is(cause, syscall.EBUSY), errors.Is(cause, errLocked):
		e.Kind = sensors.ErrBusy
		e.Sentence = fmt.Sprintf("%s is held by another program: close it there, or end the other hub", device)
	case code == serial.PermissionDenied, errors.Is(cause, syscall.EACCES), errors.Is(cause, syscall.EPERM):
		e.Kind = sensors.ErrDenied
		e.Sentence = deniedSentence(device)
	default:
		e.Kind = sensors.ErrNotSerial
		e.Sentence = fmt.Sprintf("%s can't be set up as a serial port (%v): check that it is one, and its baud, data bits, parity and stop bits", device, cause)
	}
	return e
}
