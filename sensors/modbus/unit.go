package modbus

import (
	"slices"
	"time"
)

// askAgainWithin is how long after a time-out, of link time, a unit is asked
// again at the latest, so that one that comes back is soon heard. Where a
// round takes longer than the interval it may be one round more.
const askAgainWithin = 5 * time.Second

// unit is one device on the wire, and how it has been answering. Its times are
// offsets of the link.
type unit struct {
	spans []Span
	next  int // the span that its next turn begins with

	// For one that did not answer when it was last asked; all zero for others.
	rest  time.Duration // how long it is left alone for the sake of the others
	until time.Duration // when that is over
	late  time.Duration // before this its answer may yet come, and it is not asked
}

// units puts each unit of a plan with its spans.
func units(plan []Span) []*unit {
	var all []*unit
	for _, span := range plan {
		if last := len(all) - 1; last >= 0 && all[last].spans[0].Unit == span.Unit {
			all[last].spans = append(all[last].spans, span)
		} else {
			all = append(all, &unit{spans: []Span{span}})
		}
	}
	return all
}

// unanswered notes a question without an answer. The unit is left alone for one
// time-out, and twice as long after each further one, as far as it is then still
// asked again soon enough by rounds that are an interval apart.
//
// Behind the silence of another unit it is not left alone, but asked again first
// of all: a device that listens in may have taken the question for the answer
// that the other owed, as those built on libmodbus do.
func (u *unit) unanswered(at, timeout, interval time.Duration, behindSilence bool) {
	u.late = at + timeout
	if behindSilence {
		u.rest, u.until = max(timeout, u.rest), 0
		return
	}
	u.rest = max(timeout, min(2*u.rest, askAgainWithin-interval))
	u.until = at + u.rest
}

// answered notes that the unit spoke, be it with a damaged frame.
func (u *unit) answered() { u.rest, u.until, u.late = 0, 0, 0 }

// longestDue is the mute unit whose rest is or will be over first; nil where
// there is none.
func longestDue(all []*unit) *unit {
	var longest *unit
	for _, u := range all {
		if u.rest > 0 && (longest == nil || u.until < longest.until) {
			longest = u
		}
	}
	return longest
}

// spareNobody ends the rest of one unit where all of them rest, since there is
// then nobody to rest for.
func spareNobody(all []*unit, now time.Duration) {
	rests := func(u *unit) bool { return u.rest > 0 && u.until > now }
	if !slices.ContainsFunc(all, func(u *unit) bool { return !rests(u) }) {
		longestDue(all).until = 0
	}
}
