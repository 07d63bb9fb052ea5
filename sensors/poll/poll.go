package poll

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"simmerline/sensors"
)

// All of these are on the injected clock.
const (
	// lookEvery is how often a missing device is looked for.
	lookEvery = 500 * time.Millisecond
	// leastRound is the shortest time between the starts of two exchanges when
	// the first brought nothing, so that a driver or port that comes back at
	// once can't spin a processor.
	leastRound = 5 * time.Millisecond
	// muteAfter is how long an open port may bring no byte before that is said,
	// and presentAfter before the system is asked whether the device is there.
	muteAfter    = 10 * time.Second
	presentAfter = 2 * time.Second
	// A mute port is opened again after the first patience, and each time it
	// stays mute after twice as long as before: the open may restart a board
	// that needs its time.
	firstPatience = 15 * time.Second
	mostPatience  = 4 * time.Minute
	// sleepGap is how much more than Now the time since boot must have grown for
	// the machine to have slept.
	sleepGap = 2 * time.Second
	// busyPatience is how long a device may be held by another program before
	// that is called so: systems probe a device that has just been plugged in.
	busyPatience = 15 * time.Second
)

// poller is one port's life. Only Run's goroutine touches it.
type poller struct {
	Options
	channels []sensors.Channel
	intakes  map[string]*sensors.Intake
	report   report
	backoff  backoff
	patience time.Duration
	asleep   time.Duration // how far at most SinceBoot was ahead of Now when last looked
	busy     time.Duration // since when the device has been busy; -1 when it is not
	opens    int
	holding  chan struct{} // closed when what was left behind has come back; nil when there is nothing
	leftOpen int           // closes that did not come back
}

// Run polls a port until ctx is done. It gives an error when its options won't
// do, and at its end when something it had to leave behind has not come back.
func Run(ctx context.Context, o Options) error {
	if err := o.check(); err != nil {
		return err
	}
	p := &poller{Options: o, channels: o.Config.Channels(), intakes: make(map[string]*sensors.Intake), busy: -1}
	interval := o.Driver.Interval()
	for _, c := range p.channels {
		if p.intakes[c.Name] = o.Intakes[c.Name]; p.intakes[c.Name] == nil {
			p.intakes[c.Name] = sensors.NewIntake(c, o.Config.Settle)
		}
		p.intakes[c.Name].AskedEvery(interval)
	}
	p.patience = max(firstPatience, 4*interval)
	p.report.status.Port = o.Config.Name
	p.report.status.Unprotected = o.Config.Lines != nil && o.Config.Lines.Check != sensors.LineXORRequired
	p.slept()
	for ctx.Err() == nil {
		p.wait(ctx, p.once(ctx))
	}
	return p.leftBehind()
}

// once opens the port and uses it until it is lost, and returns how long to
// wait before the next time.
func (p *poller) once(ctx context.Context) time.Duration {
	for p.holding != nil {
		p.set(sensors.PortUnknown, "the last call to the device has not come back: unplug it and plug it in again; if that does not help, restart the hub")
		timer := p.Clock.NewTimer(lookEvery)
		select {
		case <-p.holding:
			p.holding = nil
		case <-timer.C():
		case <-ctx.Done():
			timer.Stop()
			return 0
		}
		timer.Stop()
	}
	port, device, err := p.open(ctx)
	if ctx.Err() != nil {
		if err == nil {
			p.close(newGuard(port, 0))
		}
		return 0
	}
	if err != nil {
		return p.notOpened(err)
	}
	now := p.Clock.Now()
	p.opens++
	p.report.status.Reopens = uint64(p.opens - 1)
	p.report.status.Device = device
	p.busy = -1
	p.slept() // a sleep before the open is of no matter
	p.Driver.Reset()
	// What arrived before would look as if it came now. If this fails, so will
	// the first read, which says why.
	_ = port.Discard()
	for _, in := range p.intakes {
		in.Opened(now)
	}
	if p.Config.Settle > 0 {
		p.set(sensors.PortOpening, "settling after the open")
	} else {
		p.set(sensors.PortOpen, "")
	}
	g := newGuard(port, now)
	loss := p.use(ctx, g, device, now)
	if ctx.Err() == nil {
		p.lost(loss) // at once, as the close may take its time
	}
	p.close(g)
	return p.backoff.next()
}

// loss is why a port is given up, and what becomes of its channels.
type loss struct {
	state  sensors.PortState
	reason sensors.Reason
	detail string
}

// use exchanges with an open port until it is lost or ctx is done.
func (p *poller) use(ctx context.Context, g *guard, device string, openedAt time.Duration) loss {
	settled := openedAt + p.Config.Settle
	asked := openedAt // when the system was last asked whether the device is there
	for ctx.Err() == nil {
		start := p.Clock.Now()
		e := p.exchange(ctx, g)
		now := p.Clock.Now()
		if errors.Is(e.err, errStopped) {
			break
		}
		if p.slept() {
			// What was read before the sleep would look as if it were fresh.
			return loss{sensors.PortOpening, sensors.ReasonSilent, "the computer was asleep: opening the device again"}
		}
		p.take(e.Exchanged, now < settled)
		if e.err != nil {
			return lossOf(e.err, device)
		}
		mute := now - g.lastHeard()
		if mute >= presentAfter && now-asked >= presentAfter && p.Present != nil {
			asked = now
			if !p.Present(device) {
				return lossOf(sensors.ErrUnplugged, device)
			}
		}
		switch {
		case mute >= p.patience:
			p.patience = min(2*p.patience, mostPatience)
			return loss{sensors.PortOpening, sensors.ReasonSilent, fmt.Sprintf(
				"nothing came from %s for %v: opening it again; check the device's power and its wires", device, mute.Round(time.Second))}
		case now < settled:
			p.set(sensors.PortOpening, "settling after the open")
		case mute >= muteAfter:
			p.set(sensors.PortOpen, "open, but nothing comes from it: check the device's power and its wires")
		default:
			p.set(sensors.PortOpen, "")
		}
		next := start + p.Driver.Interval()
		if len(e.Readings) == 0 {
			next = max(next, start+leastRound)
		}
		p.wait(ctx, next-now)
	}
	return loss{}
}

// lossOf is what an error of an exchange means.
func lossOf(err error, device string) loss {
	switch {
	case errors.Is(err, sensors.ErrUnplugged):
		return loss{sensors.PortMissing, sensors.ReasonUnplugged, device + " has gone: plug it in again, and it is used again by itself"}
	case errors.Is(err, errOverrun):
		return loss{sensors.PortOpening, sensors.ReasonSilent, device + " is stuck: opening it again; if it stays so, unplug it and plug it in again"}
	default:
		return loss{sensors.PortOpening, sensors.ReasonSilent, fmt.Sprintf("%s failed (%v): opening it again", device, err)}
	}
}

// lost tells the loss of the port: first that no number stands, then why.
func (p *poller) lost(l loss) {
	now := p.Clock.Now()
	var bad []sensors.Reading
	for _, c := range p.channels {
		in := p.intakes[c.Name]
		if in.Heard() {
			bad = append(bad, c.Fault(now, math.NaN(), l.reason))
		}
		in.Lost(now)
	}
	p.report.status.Device = ""
	if len(bad) > 0 {
		p.Deliver(sensors.Batch{Port: p.Config.Name, At: now, Readings: bad})
	}
	p.set(l.state, l.detail)
}

// notOpened tells why the port is not open, and returns when to try again. A
// device that is merely missing is looked for at a steady pace.
func (p *poller) notOpened(err error) time.Duration {
	detail := err.Error()
	var open *sensors.OpenError
	if errors.As(err, &open) {
		detail = open.Sentence
	}
	now := p.Clock.Now()
	if !errors.Is(err, sensors.ErrBusy) {
		p.busy = -1
	}
	switch {
	case errors.Is(err, sensors.ErrMissing), errors.Is(err, sensors.ErrUnplugged):
		p.backoff.reset()
		p.set(sensors.PortMissing, detail)
		return lookEvery
	case errors.Is(err, sensors.ErrDenied):
		p.set(sensors.PortDenied, detail)
	case errors.Is(err, sensors.ErrBusy):
		if p.busy < 0 {
			p.busy = now
		}
		if now-p.busy < busyPatience {
			p.set(sensors.PortOpening, "another program is looking at the device: trying again")
		} else {
			p.set(sensors.PortBusy, detail)
		}
	case errors.Is(err, errOverrun):
		p.set(sensors.PortUnknown, "opening the device takes too long: unplug it and plug it in again")
	default:
		p.set(sensors.PortUnknown, detail)
	}
	return p.backoff.next()
}

// take passes what an exchange brought through the intakes and hands it on. What
// is heard while a board restarts is no fault of the wire.
func (p *poller) take(e sensors.Exchanged, settling bool) {
	kept := make([]sensors.Reading, 0, len(e.Readings))
	for _, r := range e.Readings {
		in := p.intakes[r.Channel]
		if in == nil {
			e.Faults.NotMapped++
			continue
		}
		kept = append(kept, in.Accept(r))
	}
	if len(kept) > 0 {
		p.backoff.reset()
	}
	if !settling {
		p.report.status.Faults.Add(e.Faults)
	}
	p.tell(kept)
}

// slept says whether the machine has slept since the last call. Time may pass
// between looking at one clock and at the other, most of all on a fast one, so
// only a gap that this can't explain counts.
func (p *poller) slept() bool {
	before := p.Clock.Now()
	boot := p.Clock.SinceBoot()
	after := p.Clock.Now()
	was := p.asleep
	p.asleep = boot - before
	return boot-after-was > sleepGap
}

// wait lets time pass on the injected clock.
func (p *poller) wait(ctx context.Context, d time.Duration) {
	if d <= 0 || ctx.Err() != nil {
		return
	}
	timer := p.Clock.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C():
	case <-ctx.Done():
	}
}

// leftBehind says what had not come back at the end.
func (p *poller) leftBehind() error {
	var faults []error
	if p.holding != nil {
		select {
		case <-p.holding:
		default:
			faults = append(faults, fmt.Errorf("poll: port %q: a call to the device did not come back and was left behind", p.Config.Name))
		}
	}
	if p.leftOpen > 0 {
		faults = append(faults, fmt.Errorf("poll: port %q: closing the device did not end within %v, %d times", p.Config.Name, closeLimit, p.leftOpen))
	}
	return errors.Join(faults...)
}
