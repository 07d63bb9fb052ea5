package simbench

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"simmerline/sensors"
)

// Tap is one port as Preroll reads it: the same driver and the same intakes
// that will read it afterwards, so that a cell that has warmed up stays warm.
type Tap struct {
	Config sensors.PortConfig
	Driver sensors.Driver
	// Intakes are by channel name; a channel without one is taken as it comes.
	Intakes map[string]*sensors.Intake
}

// pacedBy is the time of a link that is told where the story stands.
type pacedBy struct{ at, limit time.Duration }

func (p *pacedBy) now() time.Duration { return p.at }

func (p *pacedBy) wait(until time.Duration, _ <-chan struct{}) error {
	if p.at >= p.limit {
		return sensors.ErrTimeout
	}
	p.at = max(p.at, min(until, p.limit))
	return nil
}

// tapping is a tap while it is read.
type tapping struct {
	Tap
	station *station
	pace    pacedBy
	link    memoryLink
	next    time.Duration // when its next exchange begins
	open    bool
	status  sensors.PortStatus
}

const (
	// reopenEvery is how often a port that is pulled out is tried again.
	reopenEvery = time.Second
	// answerMargin is kept before the end, so that no question is left open there.
	answerMargin = 100 * time.Millisecond
)

// Preroll runs the story from one offset to another as fast as the machine can:
// the real drivers read the devices over links in memory, in the order of the
// story, and deliver gets what each port has to say in the order of time. It is
// to be called before anything else looks at the bench at a later offset. Its
// error is a link's that no device can cause, or a port that is not there.
func (b *Bench) Preroll(from, to time.Duration, taps []Tap, deliver func(sensors.Batch)) error {
	var all []*tapping
	for _, tap := range taps {
		s, err := b.station(tap.Config.Name)
		if err != nil {
			return err
		}
		t := &tapping{Tap: tap, station: s, pace: pacedBy{at: from, limit: to}, next: from}
		lines := tap.Config.Lines
		t.status = sensors.PortStatus{
			Port: s.name, Device: "in memory", Since: from,
			Unprotected: lines != nil && lines.Check != sensors.LineXORRequired,
		}
		t.link = memoryLink{bench: b, station: s, pace: &t.pace}
		all = append(all, t)
	}
	var waiting []sensors.Batch
	for {
		t := earliest(all)
		if t == nil || t.next >= to {
			break
		}
		// Whatever comes later comes from an exchange that begins later.
		waiting = release(waiting, t.next, deliver)
		batches, err := t.exchange(b, to)
		if err != nil {
			return fmt.Errorf("simbench: port %s: %w", t.station.name, err)
		}
		waiting = append(waiting, batches...)
	}
	release(waiting, never, deliver)
	b.look(to)
	return nil
}

func earliest(all []*tapping) *tapping {
	var first *tapping
	for _, t := range all {
		if first == nil || t.next < first.next {
			first = t
		}
	}
	return first
}

// release delivers, in order of time, what came before the offset, and gives
// what is left.
func release(waiting []sensors.Batch, before time.Duration, deliver func(sensors.Batch)) []sensors.Batch {
	slices.SortStableFunc(waiting, func(a, b sensors.Batch) int {
		switch {
		case a.At < b.At:
			return -1
		case a.At > b.At:
			return 1
		}
		return 0
	})
	for len(waiting) > 0 && waiting[0].At < before {
		deliver(waiting[0])
		waiting = waiting[1:]
	}
	return waiting
}

// exchange does one round on a port: opens it where it is closed, or lets the
// driver speak once.
func (t *tapping) exchange(b *Bench, to time.Duration) ([]sensors.Batch, error) {
	start := t.next
	t.pace.at = start
	if !b.plugged(t.station.port, start) {
		t.next = start + reopenEvery
		return t.lost(start), nil
	}
	if !t.open {
		t.next = start
		return []sensors.Batch{t.opened(start)}, nil
	}
	interval := t.Driver.Interval()
	if interval > 0 && start > to-answerMargin {
		t.next = to
		return nil, nil
	}
	heard, err := t.Driver.Exchange(&t.link)
	end := t.pace.at
	t.next = max(start+interval, end)
	if t.next == start {
		t.next = start + time.Millisecond // a driver that does not wait
	}
	batches := t.batch(heard, end)
	switch {
	case errors.Is(err, sensors.ErrUnplugged):
		return append(batches, t.lost(end)...), nil
	case err != nil:
		return nil, err
	}
	return batches, nil
}

func (t *tapping) opened(at time.Duration) sensors.Batch {
	t.open = true
	t.Driver.Reset()
	t.station.discard(at)
	for _, in := range t.Intakes {
		in.Opened(at)
	}
	if t.status.State == sensors.PortMissing {
		t.status.Reopens++
	}
	return t.become(at, sensors.PortOpen, "")
}

// lost tells once that a port has gone: first a bad reading for each channel
// that was heard, so that no older number stands, then the state of the port.
func (t *tapping) lost(at time.Duration) []sensors.Batch {
	if t.status.State == sensors.PortMissing {
		return nil
	}
	t.open = false
	last := sensors.Batch{Port: t.station.name, At: at}
	for _, c := range t.Config.Channels() {
		in := t.Intakes[c.Name]
		if in != nil && !in.Heard() {
			continue
		}
		if in != nil {
			in.Lost(at)
		}
		last.Readings = append(last.Readings, c.Fault(at, math.NaN(), sensors.ReasonUnplugged))
	}
	missing := t.become(at, sensors.PortMissing, "the adapter is not plugged in; plug it in again")
	if last.Readings == nil {
		return []sensors.Batch{missing}
	}
	return []sensors.Batch{last, missing}
}

func (t *tapping) become(at time.Duration, state sensors.PortState, detail string) sensors.Batch {
	t.status.State, t.status.Since, t.status.Detail = state, at, detail
	return sensors.Batch{Port: t.station.name, At: at, Status: t.statusNow()}
}

func (t *tapping) statusNow() *sensors.PortStatus {
	status := t.status
	return &status
}

// batch is what an exchange that ended at the offset brought; none if nothing.
func (t *tapping) batch(heard sensors.Exchanged, at time.Duration) []sensors.Batch {
	batch := sensors.Batch{Port: t.station.name, At: at}
	for _, r := range heard.Readings {
		if in := t.Intakes[r.Channel]; in != nil {
			r = in.Accept(r)
		}
		batch.Readings = append(batch.Readings, r)
	}
	if heard.Faults.Total() > 0 {
		t.status.Faults.Add(heard.Faults)
		batch.Status = t.statusNow()
	}
	if batch.Readings == nil && batch.Status == nil {
		return nil
	}
	return []sensors.Batch{batch}
}
