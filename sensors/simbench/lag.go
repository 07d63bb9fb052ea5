package simbench

import "time"

const (
	// lagNoticed is how much of the story may pass while something is due and
	// not done before the story waits for it.
	lagNoticed = 200 * time.Millisecond
	// lagAwaited is how long, by a real watch, it then waits.
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
		if w.lags[i].holds(now, watch, unread || s.late(now), losses) {
			behind = true
		}
	}
	return behind
}

// lag follows one wire.
type lag struct {
	lags   bool
	since  time.Duration // where the story stood when it was first seen to lag
	began  time.Time     // and when that was, by a real watch
	vain   bool          // it was waited for in vain: nobody reads there
	losses int           // what nobody read and was lost, when it was last seen not to lag
}

// holds says whether the story waits for the wire. One that was waited for in
// vain must first be read again, not only emptied by a loss.
func (l *lag) holds(now time.Duration, watch time.Time, lags bool, losses int) bool {
	if !lags {
		l.lags = false
		l.vain = l.vain && losses != l.losses
		l.losses = losses
		return false
	}
	if !l.lags {
		l.lags, l.since, l.began = true, now, watch
	}
	if now-l.since < lagNoticed {
		return false
	}
	l.vain = l.vain || watch.Sub(l.began) > lagAwaited
	return !l.vain
}
