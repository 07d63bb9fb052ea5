package poll

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"simmerline/sensors"
	"simmerline/sensors/clock"
)

// socket is a device's place on a fake bench: something is plugged in there or
// not, and it can misbehave in every way that devices do.
type socket struct {
	clock *sleepyClock

	mu      sync.Mutex
	plugged *fakePort // nil when nothing is
	openErr error     // instead of opening
	opens   []time.Duration
	closes  int
	holdAt  string        // "open", "read", "close": the call that hangs
	hold    chan struct{} // until this is closed
}

// sleepyClock is the system's clock with a machine that can be put to sleep.
type sleepyClock struct {
	*clock.System
	mu    sync.Mutex
	slept time.Duration
}

func (c *sleepyClock) SinceBoot() time.Duration {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.Now() + c.slept
}

func (c *sleepyClock) sleep(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.slept += d
}

func newSocket() *socket { return &socket{clock: &sleepyClock{System: clock.NewSystem()}} }

// plug puts a device in, which is found under the given node.
func (s *socket) plug(device string) *fakePort {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.plugged = &fakePort{socket: s, device: device, lines: make(chan string, 100), gone: make(chan struct{})}
	return s.plugged
}

func (s *socket) unplug() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.plugged != nil {
		close(s.plugged.gone)
	}
	s.plugged = nil
}

// hang makes the named call hang from now on; the returned function ends that.
func (s *socket) hang(call string) (release func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.holdAt, s.hold = call, make(chan struct{})
	return func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		if s.holdAt != "" {
			close(s.hold)
		}
		s.holdAt = ""
	}
}

func (s *socket) maybeHang(call string) {
	s.mu.Lock()
	hold, here := s.hold, s.holdAt == call
	s.mu.Unlock()
	if here {
		<-hold
	}
}

func (s *socket) fail(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.openErr = err
}

func (s *socket) open() (Port, string, error) {
	s.maybeHang("open")
	s.mu.Lock()
	defer s.mu.Unlock()
	switch {
	case s.openErr != nil:
		return nil, "", s.openErr
	case s.plugged == nil:
		return nil, "", &sensors.OpenError{Kind: sensors.ErrMissing, Sentence: "board-1 is not plugged in: plug it in"}
	}
	s.opens = append(s.opens, s.clock.Now())
	p := s.plugged
	return &fakePort{socket: s, device: p.device, lines: p.lines, gone: p.gone, closed: make(chan struct{})}, p.device, nil
}

func (s *socket) opened() []time.Duration {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.opens)
}

// fakePort is an open link to what is plugged in.
type fakePort struct {
	socket *socket
	device string
	lines  chan string // what the device sends
	gone   chan struct{}
	closed chan struct{}
	once   sync.Once
}

func (p *fakePort) Read(to []byte, wait time.Duration) (int, time.Duration, error) {
	p.socket.maybeHang("read")
	timer := time.NewTimer(wait)
	defer timer.Stop()
	select {
	case line := <-p.lines:
		return copy(to, line), p.socket.clock.Now(), nil
	case <-p.gone:
		return 0, p.socket.clock.Now(), sensors.ErrUnplugged
	case <-p.closed:
		return 0, p.socket.clock.Now(), sensors.ErrClosed
	case <-timer.C:
		return 0, p.socket.clock.Now(), sensors.ErrTimeout
	}
}

func (p *fakePort) Write([]byte) error { return nil }

func (p *fakePort) Discard() error {
	for len(p.lines) > 0 {
		<-p.lines
	}
	return nil
}

func (p *fakePort) Close() error {
	p.socket.maybeHang("close")
	p.once.Do(func() { close(p.closed) })
	p.socket.mu.Lock()
	defer p.socket.mu.Unlock()
	p.socket.closes++
	return nil
}

// numberDriver reads a number in each line; "?" stands for noise.
type numberDriver struct {
	channel sensors.Channel
	resets  int
	rounds  int
	every   time.Duration
	listen  time.Duration                                      // 0 means 500 ms
	instead func(link sensors.Link) (sensors.Exchanged, error) // of an exchange
}

func (d *numberDriver) Reset()                  { d.resets++ }
func (d *numberDriver) Interval() time.Duration { return d.every }

func (d *numberDriver) Exchange(link sensors.Link) (sensors.Exchanged, error) {
	d.rounds++
	if d.instead != nil {
		return d.instead(link)
	}
	if d.listen == 0 {
		d.listen = 500 * time.Millisecond
	}
	var e sensors.Exchanged
	p := make([]byte, 64)
	n, at, err := link.Read(p, d.listen)
	var number float64
	switch {
	case err == sensors.ErrTimeout:
		return e, nil
	case err != nil:
		return e, err
	case strings.HasPrefix(string(p[:n]), "?"):
		e.Faults.Malformed++
	case strings.HasPrefix(string(p[:n]), "other"):
		e.Readings = append(e.Readings, sensors.Reading{Channel: "other", At: at})
	default:
		if _, err := fmt.Sscan(string(p[:n]), &number); err != nil {
			return e, err
		}
		e.Readings = append(e.Readings, d.channel.Convert(at, number))
	}
	return e, nil
}

// bench is a running port under test and what it has told.
type bench struct {
	*socket
	options Options
	driver  *numberDriver
	ended   chan error
	stop    context.CancelFunc

	toldMu sync.Mutex
	told   []sensors.Batch
}

func probe() sensors.Channel {
	return sensors.Channel{Name: "hot", Quantity: sensors.Temperature, Low: -20, High: 125, DigitalProbe: true}
}

func newBench(channel sensors.Channel) *bench {
	b := &bench{socket: newSocket(), driver: &numberDriver{channel: channel}, ended: make(chan error, 1)}
	b.options = Options{
		Config: sensors.PortConfig{Name: "board-1", Lines: &sensors.LinesConfig{
			Check: sensors.LineXORRequired, Channels: []sensors.LineChannel{{Channel: channel, Key: "hot"}}}},
		Driver: b.driver, Open: b.open, Clock: b.clock,
		Deliver: func(batch sensors.Batch) {
			b.toldMu.Lock()
			defer b.toldMu.Unlock()
			b.told = append(b.told, batch)
		},
	}
	return b
}

// run begins to poll; end stops it and waits.
func (b *bench) run(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	b.stop = cancel
	go func() { b.ended <- Run(ctx, b.options) }()
}

func (b *bench) end(t *testing.T) error {
	t.Helper()
	begun := time.Now()
	b.stop()
	err := <-b.ended
	if took := time.Since(begun); took > 2*closeLimit {
		t.Errorf("it took %v to stop", took)
	}
	return err
}

// transcript gives what was told since the last call, a line a batch.
func (b *bench) transcript() string {
	b.toldMu.Lock()
	defer b.toldMu.Unlock()
	var lines []string
	for _, batch := range b.told {
		line := batch.At.String()
		for _, r := range batch.Readings {
			line += fmt.Sprintf(" | %s %v", r.Channel, r.Quality)
			if r.Value.Known() {
				line += " " + r.Value.String()
			}
			if r.Reason != sensors.ReasonNone {
				line += " " + r.Reason.String()
			}
		}
		if s := batch.Status; s != nil {
			line += fmt.Sprintf(" | %v", s.State)
			if s.Device != "" {
				line += " on " + s.Device
			}
			if s.Reopens > 0 {
				line += fmt.Sprintf(", reopened %d", s.Reopens)
			}
			if s.Faults.Total() > 0 {
				line += fmt.Sprintf(", %d refused", s.Faults.Total())
			}
			if s.Detail != "" {
				line += ": " + s.Detail
			}
		}
		lines = append(lines, line)
	}
	b.told = nil
	return strings.Join(lines, "\n")
}

func (b *bench) expect(t *testing.T, want ...string) {
	t.Helper()
	if got := b.transcript(); got != strings.Join(want, "\n") {
		t.Errorf("told:\n%s\nwant:\n%s", got, strings.Join(want, "\n"))
	}
}
