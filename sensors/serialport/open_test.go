package serialport

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"go.bug.st/serial"

	"simmerline/sensors"
	"simmerline/sensors/clock"
)

// fakeRaw stands in for the library's port. Each read takes a step: it lasts
// so long and brings that.
type fakeRaw struct {
	steps    []rawStep
	timeouts []time.Duration
	last     time.Duration
	reads    int
	written  []byte
	wrote    func([]byte) (int, error)
	closes   int
	closed   chan struct{}
}

type rawStep struct {
	lasts time.Duration // -1: the whole time-out; -2: until closed
	bytes string
	err   error
}

func (f *fakeRaw) SetReadTimeout(d time.Duration) error {
	f.timeouts, f.last = append(f.timeouts, d), d
	return nil
}

func (f *fakeRaw) Read(p []byte) (int, error) {
	f.reads++
	step := rawStep{lasts: -1}
	if len(f.steps) > 0 {
		step, f.steps = f.steps[0], f.steps[1:]
	}
	switch step.lasts {
	case -1:
		time.Sleep(f.last)
	case -2:
		<-f.closed
	default:
		time.Sleep(step.lasts)
	}
	return copy(p, step.bytes), step.err
}

func (f *fakeRaw) Write(p []byte) (int, error) {
	if f.wrote != nil {
		return f.wrote(p)
	}
	f.written = append(f.written, p...)
	return len(p), nil
}

func (f *fakeRaw) ResetInputBuffer() error { return nil }

func (f *fakeRaw) Close() error {
	f.closes++
	close(f.closed)
	return nil
}

func fakePort(steps ...rawStep) (*Port, *fakeRaw) {
	raw := &fakeRaw{steps: steps, closed: make(chan struct{})}
	return newPort(raw, noFile{}, clock.NewSystem()), raw
}

type noFile struct{}

func (noFile) Close() error { return nil }

func TestReadTimeOut(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port, raw := fakePort()
		n, at, err := port.Read(make([]byte, 8), 250*time.Millisecond)
		if n != 0 || err != sensors.ErrTimeout || at != 250*time.Millisecond {
			t.Errorf("nothing arrived: %d, %v, %v", n, at, err)
		}
		// The wait is cut in pieces, and a time-out is set only when it changes.
		if len(raw.timeouts) != 2 || raw.timeouts[0] != readChunk || raw.timeouts[1] != 50*time.Millisecond || raw.reads != 3 {
			t.Errorf("time-outs %v in %d reads", raw.timeouts, raw.reads)
		}
		for range 3 {
			port.Read(make([]byte, 8), 50*time.Millisecond)
		}
		if len(raw.timeouts) != 2 {
			t.Errorf("the same time-out was set again: %v", raw.timeouts)
		}
	})
}

func TestReadStampsTheArrival(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port, _ := fakePort(rawStep{lasts: -1}, rawStep{lasts: 30 * time.Millisecond, bytes: "68.4"})
		p := make([]byte, 8)
		n, at, err := port.Read(p, time.Second)
		if string(p[:n]) != "68.4" || at != 130*time.Millisecond || err != nil {
			t.Errorf("read %q at %v, %v", p[:n], at, err)
		}
	})
}

func TestReadThatReturnsAtOnceCannotSpin(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var steps []rawStep
		for range 1000 {
			steps = append(steps, rawStep{})
		}
		port, raw := fakePort(steps...)
		_, at, err := port.Read(make([]byte, 8), 500*time.Millisecond)
		if err != sensors.ErrTimeout || at < 500*time.Millisecond || raw.reads > 110 {
			t.Errorf("%d reads until %v, %v", raw.reads, at, err)
		}
	})
}

// On a fast clock a wait ends by that clock, however the library's own time-outs
// fall: neither early, nor later than the least time-out that a system is given.
func TestReadOnAFastClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		story := clock.NewStory(0, time.Now(), 60)
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		go story.Run(ctx)
		raw := &fakeRaw{closed: make(chan struct{})}
		port := newPort(raw, noFile{}, story)
		time.Sleep(time.Second)
		for _, wait := range []time.Duration{0, 50 * time.Millisecond, time.Second, 2 * time.Second, 30 * time.Second} {
			before := story.Now()
			_, at, err := port.Read(make([]byte, 8), wait)
			if err != sensors.ErrTimeout || at-before < wait || at-before > wait+2*story.Real(0)*60 {
				t.Errorf("a wait of %v ended after %v with %v", wait, at-before, err)
			}
		}
	})
}

func TestReadErrorIsAnUnplug(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, cause := range []error{&serial.PortError{}, errors.New("device not configured"), errNoDevice} {
			port, _ := fakePort(rawStep{err: cause})
			if _, _, err := port.Read(make([]byte, 8), time.Second); err != sensors.ErrUnplugged {
				t.Errorf("%v became %v", cause, err)
			}
		}
	})
}

func TestBytesBeforeAnErrorAreKept(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port, _ := fakePort(rawStep{bytes: "last", err: errNoDevice}, rawStep{err: errNoDevice})
		p := make([]byte, 8)
		if n, _, err := port.Read(p, time.Second); string(p[:n]) != "last" || err != nil {
			t.Errorf("read %q, %v", p[:n], err)
		}
		if _, _, err := port.Read(p, time.Second); err != sensors.ErrUnplugged {
			t.Errorf("then %v", err)
		}
	})
}

func TestCloseEndsARead(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port, raw := fakePort()
		ended := make(chan error)
		go func() {
			_, _, err := port.Read(make([]byte, 8), time.Minute)
			ended <- err
		}()
		time.Sleep(330 * time.Millisecond)
		begun := time.Now()
		if err := port.Close(); err != nil {
			t.Error(err)
		}
		if took := time.Since(begun); took > readChunk {
			t.Errorf("Close took %v", took)
		}
		if err := <-ended; err != sensors.ErrClosed {
			t.Errorf("the read ended with %v", err)
		}
		port.Close()
		if raw.closes != 1 {
			t.Errorf("closed %d times", raw.closes)
		}
		if _, _, err := port.Read(nil, 0); err != sensors.ErrClosed {
			t.Errorf("a read after Close: %v", err)
		}
		if err := port.Write([]byte{1}); err != sensors.ErrClosed {
			t.Errorf("a write after Close: %v", err)
		}
		if err := port.Discard(); err != sensors.ErrClosed {
			t.Errorf("a discard after Close: %v", err)
		}
	})
}

// A driver may ignore its time-out altogether: then the port is closed under it.
func TestCloseUnderAStuckRead(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port, _ := fakePort(rawStep{lasts: -2, err: errors.New("aborted")})
		ended := make(chan error)
		go func() {
			_, _, err := port.Read(make([]byte, 8), time.Second)
			ended <- err
		}()
		time.Sleep(10 * time.Second)
		begun := time.Now()
		port.Close()
		if took := time.Since(begun); took != closePatience {
			t.Errorf("Close took %v", took)
		}
		if err := <-ended; err != sensors.ErrClosed {
			t.Errorf("the read ended with %v", err)
		}
	})
}

func TestWriteSendsAll(t *testing.T) {
	port, raw := fakePort()
	raw.wrote = func(p []byte) (int, error) {
		n := min(3, len(p))
		raw.written = append(raw.written, p[:n]...)
		return n, nil
	}
	if err := port.Write([]byte("READ?68.4")); err != nil || string(raw.written) != "READ?68.4" {
		t.Errorf("wrote %q, %v", raw.written, err)
	}
	raw.wrote = func([]byte) (int, error) { return 0, errors.New("input/output error") }
	if err := port.Write([]byte{1}); err != sensors.ErrUnplugged {
		t.Errorf("a failed write: %v", err)
	}
}

func TestModeOf(t *testing.T) {
	low := false
	good := sensors.SerialConfig{Baud: 9600, DataBits: 8, StopBits: 1}
	mode, err := modeOf(good)
	if err != nil || mode.InitialStatusBits != nil {
		t.Errorf("the modem lines are set to %v (%v) though nobody asked", mode.InitialStatusBits, err)
	}
	asked := good
	asked.DTR, asked.Parity, asked.StopBits = &low, sensors.ParityEven, 2
	mode, err = modeOf(asked)
	if err != nil || mode.InitialStatusBits == nil || mode.InitialStatusBits.DTR || !mode.InitialStatusBits.RTS ||
		mode.Parity != serial.EvenParity || mode.StopBits != serial.TwoStopBits {
		t.Errorf("mode %+v, %v", mode, err)
	}
	for _, spoil := range []func(*sensors.SerialConfig){
		func(c *sensors.SerialConfig) { c.Baud = 0 },
		func(c *sensors.SerialConfig) { c.DataBits = 5 },
		func(c *sensors.SerialConfig) { c.StopBits = 3 },
		func(c *sensors.SerialConfig) { c.Parity = 9 },
	} {
		bad := good
		spoil(&bad)
		if _, err := Open("/dev/null", bad, clock.NewSystem()); !errors.Is(err, sensors.ErrNotSerial) {
			t.Errorf("%+v: %v", bad, err)
		}
	}
}
