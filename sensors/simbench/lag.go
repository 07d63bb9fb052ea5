package simbench

import "time"

// How long, by a real watch, something may be due and not done before the
// story waits for it, and how long the story then waits.
const (
	lagNoticed = 2 * time.Millisecond
	lagAwaited = 500 * time.Millisecond
)

// Behind says whether the machine has yet to do what is due at this bench: a
// device to send, or bytes on a wire to be read. A sped-up story that goes on
// meanwhile would show a busy machine as a silent sensor. Where nobody reads at
// all, as while the hub is dark, it soon says no.
func (w *Wires) Behind() bool {
	now, watch := w.clock.Now(), time.Now()
	w.mu.Lock()
	defer w.mu.Unlock()
	behind := false
	for i, s := range w.bench.stations {
		if w.ends[i] == nil {
			w.lags[i] = lag{}
			continue
		}
		unread, losses := w.ends[i].unread()
		if w.lags[i].holds(watch, unread || s.late(now), losses) {
			behind = true
		}
	}
	return behind
}

// lag follows one wire.
type lag struct {
	since  time.Time // when it was first seen to lag; zero while it does not
	vain   bool      // it was waited for in vain: nobody reads there
	losses int       // what nobody read and was lost, when it was last seen not to lag
}

// holds says whether the story waits for the wire. One that was waited for in
// vain must first be read again, not only emptied by a loss.
func (l *lag) holds(watch time.Time, lags bool, losses int) bool {
	if !lags {
		l.since = time.Time{}
		l.vain = l.vain && losses != l.losses
		l.losses = losses
		return false
	}
	if l.since.IsZero() {
		l.since = watch
	}
	lasted := watch.Sub(l.since)
	l.vain = l.vain || lasted > lagAwaited
	return !l.vain && lasted >= lagNoticed
}
