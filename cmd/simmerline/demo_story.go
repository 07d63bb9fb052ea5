package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"sync"
	"time"

	"simmerline/hub"
	"simmerline/rules"
	"simmerline/sensors"
	"simmerline/sensors/simbench"
)

// station is one run of the demo's hub. The first has the earlier minutes of
// the story behind it; those after a power cut take up what the record holds.
func (d *demo) station(first bool) *station {
	s := &station{
		bench: d.bench, clock: d.clock, data: d.data, player: d.x.Sound, log: d.log, open: d.open,
	}
	if first {
		d.intakes = make(map[string]*sensors.Intake)
		s.earlier = &hub.Earlier{Play: d.playEarlier}
		s.intakes = d.intakes
	}
	return s
}

// playEarlier computes what lies before the demo opens, by the same drivers and
// rules, as fast as the machine can.
func (d *demo) playEarlier(past *hub.Past) error {
	var taps []simbench.Tap
	for _, p := range d.bench.Ports {
		driver, err := newDriver(p)
		if err != nil {
			return err
		}
		for _, c := range p.Channels() {
			d.intakes[c.Name] = sensors.NewIntake(c, p.Settle)
		}
		taps = append(taps, simbench.Tap{Config: p, Driver: driver, Intakes: d.intakes})
	}
	var failed error
	next := time.Second
	deeds := d.scenario.People
	catchUp := func(to time.Duration) {
		for ; next <= to; next += time.Second {
			for len(deeds) > 0 && deeds[0].At <= next {
				failed = errors.Join(failed, pastDeed(past, deeds[0]))
				deeds = deeds[1:]
			}
			failed = errors.Join(failed, past.Tick(next))
		}
	}
	err := d.sim.Preroll(0, d.scenario.OpensAt, taps, func(b sensors.Batch) {
		catchUp(b.At)
		failed = errors.Join(failed, past.Batch(b))
	})
	catchUp(d.scenario.OpensAt)
	return errors.Join(err, failed, d.plug())
}

// plug makes the ports, once the earlier minutes have been played: nothing may
// look at the bench ahead of them.
func (d *demo) plug() (err error) {
	d.wires, err = d.sim.Plug(d.folder, d.clock)
	if errors.Is(err, simbench.ErrNoPseudoTerminals) {
		d.wires = nil
		fmt.Fprintln(d.c.Out, "This system has no pseudo-terminals: the simulated ports are in memory.")
		return nil
	}
	if err == nil {
		d.clock.HoldWhile(d.wires.Behind)
	}
	return err
}

// pastDeed does what somebody did before the demo opens.
func pastDeed(past *hub.Past, deed simbench.Deed) error {
	switch deed.Kind {
	case simbench.DeedMark:
		past.Mark(deed.At, deed.Text, deed.By)
		return nil
	case simbench.DeedAcknowledge, simbench.DeedReset:
		kind := rules.Acknowledge
		if deed.Kind == simbench.DeedReset {
			kind = rules.Reset
		}
		var failed error
		for _, name := range calledFor(past.View(), deed.Kind) {
			failed = errors.Join(failed, past.Command(deed.At, rules.Command{Kind: kind, Alarm: name, By: deed.By, Why: deed.Text}))
		}
		return failed
	case simbench.DeedPutAway:
		return past.Command(deed.At, rules.Command{Kind: rules.PutAway, By: deed.By, Why: deed.Text})
	default:
		return fmt.Errorf("the story has a deed (%d) before its opening that nobody can do then", deed.Kind)
	}
}

// calledFor names the alarms that a deed is about.
func calledFor(view rules.View, kind simbench.DeedKind) []string {
	var names []string
	for _, a := range view.Alarms {
		acknowledges := a.State == rules.Unacknowledged || a.State == rules.RTNUnacknowledged || a.State == rules.LatchedUnacknowledged
		resets := a.State == rules.LatchedAcknowledged
		if kind == simbench.DeedAcknowledge && acknowledges || kind == simbench.DeedReset && resets {
			names = append(names, a.Name)
		}
	}
	return names
}

// untilDark runs a station, with the people of the story, until ctx ends or the
// story's power goes.
func (d *demo) untilDark(ctx context.Context, s *station) (dark bool, err error) {
	running, stop := context.WithCancelCause(ctx)
	var people sync.WaitGroup
	defer people.Wait()
	defer stop(nil)
	began := s.ready
	s.ready = func(h *hub.Hub) {
		began(h)
		people.Go(func() { d.people(running, h, func() { stop(hub.ErrPowerCut) }) })
	}
	err = s.run(running)
	return errors.Is(context.Cause(running), hub.ErrPowerCut), err
}

// people do what the story has them do, each at its time.
func (d *demo) people(ctx context.Context, h *hub.Hub, powerCut func()) {
	from := d.clock.Now()
	for _, deed := range d.scenario.People {
		if deed.At < from || !d.waitFor(ctx, deed.At) {
			continue
		}
		var err error
		switch deed.Kind {
		case simbench.DeedMark:
			_, err = h.Mark(ctx, deed.Text, deed.By)
		case simbench.DeedSessionStart:
			_, _, err = h.StartSession(ctx, deed.Text, 0, deed.By)
		case simbench.DeedSessionEnd:
			_, _, err = h.EndSession(ctx, deed.By)
		case simbench.DeedPutAway:
			_, err = h.PutAway(ctx, deed.By, deed.Text)
		case simbench.DeedAcknowledge:
			for _, name := range calledFor(h.Snapshot().View, deed.Kind) {
				_, _, err = h.Acknowledge(ctx, name, deed.By, deed.Text)
			}
		case simbench.DeedReset:
			for _, name := range calledFor(h.Snapshot().View, deed.Kind) {
				_, _, err = h.Reset(ctx, name, deed.By, deed.Text)
			}
		case simbench.DeedHubDark:
			powerCut()
			return
		}
		if err != nil && ctx.Err() == nil {
			d.log.Warn("somebody in the story was refused", "who", deed.By, "error", err)
		}
	}
}

// waitFor waits until a story offset; false means that ctx ended first.
func (d *demo) waitFor(ctx context.Context, at time.Duration) bool {
	timer := d.clock.NewTimer(at - d.clock.Now())
	defer timer.Stop()
	select {
	case <-timer.C():
		return true
	case <-ctx.Done():
		return false
	}
}

// powerBack waits until the story's power is back and takes the same address
// again; the listener is nil where ctx ended first.
func (d *demo) powerBack(ctx context.Context) (net.Listener, error) {
	now := d.clock.Now()
	for _, deed := range d.scenario.People {
		if deed.Kind == simbench.DeedHubBack && deed.At >= now {
			if !d.waitFor(ctx, deed.At) {
				return nil, nil
			}
			break
		}
	}
	listener, err := listen(d.address, false)
	if err != nil {
		return nil, unreachable(err)
	}
	return listener, nil
}
