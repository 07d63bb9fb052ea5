package review

import (
	"math"
	"time"

	"simmerline/hub/record"
	"simmerline/sensors"
)

// figures is what a track came to.
type figures struct {
	least, most float64 // NaN while there was no good reading
	weighed     float64 // sum of value × seconds
	known       time.Duration
	inRange     time.Duration
	overLimit   time.Duration
	overRange   time.Duration
	readings    int64
}

func (f figures) mean() float64 {
	if f.known <= 0 {
		return math.NaN()
	}
	return f.weighed / f.known.Seconds()
}

// held is what a channel holds: a value, over range, or nothing.
type held struct {
	what  holding
	value float64
	until time.Duration
}

type holding uint8

const (
	nothing holding = iota
	good
	overRange
)

// track follows one bath or gas through one run after another.
type track struct {
	channels  []Channel
	low, high float64 // working range; NaN for none
	limit     float64 // NaN for none
	held      []held
	from, now time.Duration
	figures
}

func newTrack(channels ...Channel) *track {
	nan := math.NaN()
	return &track{
		channels: channels, held: make([]held, len(channels)),
		low: nan, high: nan, limit: nan, figures: figures{least: nan, most: nan},
	}
}

// begin starts a piece of the stretch in a run of its own: nothing is held.
func (t *track) begin(from time.Duration) {
	clear(t.held)
	t.from, t.now = from, from
}

// hear takes a reading in; those from before the piece only hold into it.
func (t *track) hear(r record.Reading) {
	for i, channel := range t.channels {
		if channel.Name != r.Channel {
			continue
		}
		t.advance(r.At)
		h := held{until: r.At + channel.Holds}
		switch {
		case r.Test:
		case r.Quality == sensors.QualityGood && r.Value.Known():
			h.what, h.value = good, r.Value.Number()
			if r.At >= t.from {
				t.readings++
				t.most = higher(t.most, h.value)
			}
		case r.Reason == sensors.ReasonOverRange:
			h.what = overRange
		}
		t.held[i] = h
	}
}

// advance counts what was held from now until then, in steps within which
// nothing changes.
func (t *track) advance(then time.Duration) {
	for t.now < then {
		governs, value, end := nothing, math.NaN(), then
		over := false
		for _, h := range t.held {
			if h.what == nothing || h.until <= t.now {
				continue
			}
			end = min(end, h.until)
			if h.what == overRange {
				over = true
				continue
			}
			governs, value = good, higher(value, h.value)
		}
		t.count(end-t.now, governs == good, value, over)
		t.now = end
	}
}

func (t *track) count(length time.Duration, known bool, value float64, over bool) {
	if known {
		t.known += length
		t.weighed += value * length.Seconds()
		t.least, t.most = lower(t.least, value), higher(t.most, value)
		// With no range these compare with NaN and are false.
		if value >= t.low && value <= t.high {
			t.inRange += length
		}
	}
	if over {
		t.overRange += length
	}
	if over || value >= t.limit {
		t.overLimit += length
	}
}

// higher and lower choose between two numbers, either of which may be NaN for none.
func higher(a, b float64) float64 {
	if math.IsNaN(a) || b > a {
		return b
	}
	return a
}

func lower(a, b float64) float64 {
	if math.IsNaN(a) || b < a {
		return b
	}
	return a
}
