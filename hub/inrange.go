package hub

import (
	"time"

	"simmerline/rules"
)

// settledFor is how long a bath must have been in its working range before that
// is told, and leftBy how far it must have left it before it is told again.
const (
	settledFor = 10 * time.Second
	leftBy     = 3.0 // K
)

// rangeWatch tells once when a bath comes into its working range.
type rangeWatch struct {
	seen    bool // it has been seen in or out of its range
	outside bool // it has been seen clearly outside, or first outside, since it was last told
	in      bool
	since   time.Duration
}

// due says whether the bath has settled in its working range and that is still
// to be told.
func (w *rangeWatch) due(now time.Duration, b rules.BathView) bool {
	in, known := b.InRange()
	if !known {
		w.in = false
		return false
	}
	c, _ := b.Reading.Value.Celsius()
	if !in {
		w.in = false
		w.outside = w.outside || !w.seen || c < b.RangeLow-leftBy || c > b.RangeHigh+leftBy
		w.seen = true
		return false
	}
	if !w.in {
		w.in, w.since = true, now
	}
	w.seen = true
	return w.outside && now-w.since >= settledFor
}

// told notes that it has been told.
func (w *rangeWatch) told() { w.outside = false }
