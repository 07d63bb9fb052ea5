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
	outside bool // it has been seen clearly outside since it was last told
	in      bool
	since   time.Duration
}

// update says whether the bath has just settled in its working range.
func (w *rangeWatch) update(now time.Duration, b rules.BathView) bool {
	in, known := b.InRange()
	if !known {
		return false
	}
	c, _ := b.Reading.Value.Celsius()
	if !in {
		w.in = false
		w.outside = w.outside || c < b.RangeLow-leftBy || c > b.RangeHigh+leftBy
		return false
	}
	if !w.in {
		w.in, w.since = true, now
	}
	if w.outside && now-w.since >= settledFor {
		w.outside = false
		return true
	}
	return false
}
