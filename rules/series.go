package rules

import (
	"math"
	"time"
)

// spacing is the least time between two kept samples: enough for a bath, and it
// bounds a series however fast a probe talks.
const spacing = time.Second

// sample is one kept value of a series.
type sample struct {
	at    time.Duration
	value float64
}

// mostSamples bounds a series however long its span.
const mostSamples = 600

// series is the good values of one channel over the last span, oldest first: at
// most one a second, and over a long span fewer.
type series struct {
	span    time.Duration
	spacing time.Duration
	hole    time.Duration // the longest gap over which something may be concluded
	samples []sample
}

// newSeries makes a series over a span, for a channel that may be silent for so
// long before it counts as lost.
func newSeries(span, silentAfter time.Duration) *series {
	return &series{
		span: span, spacing: max(spacing, span/mostSamples),
		hole: max(span/4, silentAfter, 3*spacing),
	}
}

// add keeps a value, unless the last one kept is too near, and forgets what has
// fallen out of the span. Values come in order of time; one from the past is
// passed over.
func (s *series) add(at time.Duration, value float64) {
	if n := len(s.samples); n > 0 && at-s.samples[n-1].at < s.spacing {
		return
	}
	s.samples = append(s.samples, sample{at, value})
	drop := 0
	for drop < len(s.samples) && at-s.samples[drop].at > s.span {
		drop++
	}
	s.samples = s.samples[drop:]
}

// clear forgets everything, as after a gap over which nothing may be concluded.
func (s *series) clear() { s.samples = s.samples[:0] }

// recent gives the samples of the span that ends now, and whether they cover at
// least the given share of it without a hole.
func (s *series) recent(now time.Duration, share float64) ([]sample, bool) {
	from := 0
	for from < len(s.samples) && now-s.samples[from].at > s.span {
		from++
	}
	part := s.samples[from:]
	if len(part) < 3 {
		return part, false
	}
	for i := 1; i < len(part); i++ {
		if part[i].at-part[i-1].at > s.hole {
			return part, false
		}
	}
	newest := part[len(part)-1].at
	if now-newest > s.hole {
		return part, false
	}
	return part, float64(newest-part[0].at) >= share*float64(s.span-s.spacing)
}

// slope is the least-squares line through samples: its gradient per minute, its
// value at the newest sample, and the standard deviation of what is left over.
func slope(part []sample) (perMinute, newest, residual float64) {
	origin := part[len(part)-1].at
	var sumT, sumV, sumTT, sumTV float64
	n := float64(len(part))
	for _, p := range part {
		t := (p.at - origin).Minutes()
		sumT += t
		sumV += p.value
		sumTT += t * t
		sumTV += t * p.value
	}
	spread := n*sumTT - sumT*sumT
	if spread <= 0 {
		return 0, sumV / n, 0
	}
	perMinute = (n*sumTV - sumT*sumV) / spread
	newest = (sumV - perMinute*sumT) / n
	var squares float64
	for _, p := range part {
		off := p.value - newest - perMinute*(p.at-origin).Minutes()
		squares += off * off
	}
	return perMinute, newest, math.Sqrt(squares / n)
}

// extent is the difference between the highest and the lowest sample.
func extent(part []sample) float64 {
	low, high := part[0].value, part[0].value
	for _, p := range part {
		low, high = min(low, p.value), max(high, p.value)
	}
	return high - low
}
