package hub

import (
	"time"

	"simmerline/rules"
	"simmerline/sensors"
)

// When a session begins and ends by itself.
const (
	// warmedBy is how far a bath must rise above where it stood for a session
	// to begin. It begins, looking back, where the rise began.
	warmedBy = 4.0 // K
	// risenFrom is how far above its lowest a bath may be and still count as not
	// having begun to rise.
	risenFrom = 0.5 // K
	// risesWithin is the longest that a rise by warmedBy may take. What is slower
	// is the room, not a hot plate.
	risesWithin = 30 * time.Minute
	// cooledFor is how long every bath must have been cool, and none rising, for
	// a session to end.
	cooledFor = 10 * time.Minute
)

// sessionTracker sees baths warm and cool. It is pure: it neither opens nor
// closes anything, but says when that is due.
type sessionTracker struct {
	baths     map[string]*warmth
	coolSince time.Duration
	cool      bool
	// warm: a bath has been warm since the session began. One that was opened
	// over cold baths does not end before that.
	warm bool
}

// warmth follows one bath.
type warmth struct {
	lowest   float64       // since the last session or the start, of late
	lowestAt time.Duration // when it was last there, or within risenFrom of it
	peak     float64       // highest since it was last seen to rise
}

func newSessionTracker() *sessionTracker {
	return &sessionTracker{baths: make(map[string]*warmth)}
}

// update takes in the baths at this moment. begin is true when a session is due
// to begin, at the offset from; end is true when one is due to end.
func (t *sessionTracker) update(now time.Duration, baths []rules.BathView) (begin bool, from time.Duration, end bool) {
	allCool, rising := len(baths) > 0, false
	for _, b := range baths {
		c, ok := b.Reading.Value.Celsius()
		if !ok || b.Reading.Quality != sensors.QualityGood {
			allCool = allCool && !b.Hot
			continue
		}
		w := t.baths[b.Name]
		if w == nil {
			w = &warmth{lowest: float64(c), lowestAt: b.Reading.At, peak: float64(c)}
			t.baths[b.Name] = w
		}
		if warmed, at := w.follow(b.Reading.At, float64(c)); warmed {
			if !begin || at < from {
				from = at
			}
			begin = true
		}
		rising = rising || w.climbs(float64(c))
		allCool = allCool && c < rules.HotAt
		t.warm = t.warm || b.Hot
	}
	t.warm = t.warm || begin
	if !allCool || rising {
		t.cool = false
		return begin, from, false
	}
	if !t.cool {
		t.cool, t.coolSince = true, now
	}
	return begin, from, t.warm && now-t.coolSince >= cooledFor
}

// follow keeps the bath's lowest temperature and says whether it has risen
// warmedBy above it, and since when.
func (w *warmth) follow(at time.Duration, c float64) (warmed bool, since time.Duration) {
	switch {
	case c <= w.lowest:
		w.lowest, w.lowestAt = c, at
	case c <= w.lowest+risenFrom:
		w.lowestAt = at
	case at-w.lowestAt > risesWithin:
		w.lowest, w.lowestAt = c, at
	}
	return c >= w.lowest+warmedBy, w.lowestAt
}

// climbs says whether the bath has gone up by a kelvin since it last did.
func (w *warmth) climbs(c float64) bool {
	if c >= w.peak+1 {
		w.peak = c
		return true
	}
	w.peak = min(w.peak, c+1)
	return false
}

// rebase makes the temperatures of now the ones to rise from, as when a session
// begins or ends. warm says whether it begins over baths that have warmed.
func (t *sessionTracker) rebase(warm bool) {
	clear(t.baths)
	t.cool, t.warm = false, warm
}
