package rules

import (
	"slices"
	"time"

	"simmerline/sensors"
)

// A bath is hot from HotAt on, and until it falls below HotBelow. HotAt is also
// the temperature below which the bench may be put away.
const (
	HotAt    sensors.Celsius = 40
	HotBelow sensors.Celsius = 38
)

// twinsAgree is how far two probes of one bath may differ and still be taken
// for two views of the same liquid, in kelvin.
const twinsAgree sensors.Celsius = 5

// bathState is what the engine keeps of one bath.
type bathState struct {
	Bath
	probes []*channelState
	hot    bool // as of the last trusted reading: unknown does not cool a bath

	// reading governs now, and speaker is the probe it is of, by its place.
	reading sensors.Reading
	speaker int
	// lead is the probe that last spoke for the bath and could be believed, and
	// last what it said; -1 where none has yet. agreed says of each probe whether
	// it was near the lead when both were last good. While orphaned, the lead is
	// lost and what is left never agreed with it: that may be a probe that fell
	// out of the bath, so it may raise an alarm but clears none and cools nothing.
	lead     int
	last     sensors.Celsius
	agreed   []bool
	orphaned bool
}

func newBath(b Bath, probes []*channelState) *bathState {
	return &bathState{Bath: b, probes: probes, lead: -1, agreed: make([]bool, len(probes))}
}

// governing finds the reading that speaks for the bath: the highest good one of
// its probes. Without a good one it is the one that says most of why.
func (b *bathState) governing(now time.Duration) (best sensors.Reading, speaker int) {
	for i, p := range b.probes {
		r := p.judged(now)
		switch {
		case i == 0:
			best = r
		case r.Quality != sensors.QualityGood:
			if best.Quality != sensors.QualityGood && worthShowing(r) > worthShowing(best) {
				best, speaker = r, i
			}
		case best.Quality != sensors.QualityGood || r.Value.Number() > best.Value.Number():
			best, speaker = r, i
		}
	}
	return best, speaker
}

// worthShowing ranks readings that are not good: an uncertain number says more
// than a bad one, and a bad one more than none.
func worthShowing(r sensors.Reading) int {
	switch r.Quality {
	case sensors.QualityUncertain:
		return 2
	case sensors.QualityBad:
		return 1
	default:
		return 0
	}
}

// update moves what is remembered of the bath on to this moment.
func (b *bathState) update(now time.Duration) {
	b.reading, b.speaker = b.governing(now)
	temperature, ok := b.reading.Value.Celsius()
	if !ok || b.reading.Quality != sensors.QualityGood {
		return
	}
	b.orphaned = b.lead >= 0 && b.lead != b.speaker && !b.agreed[b.speaker] && temperature < b.last-twinsAgree &&
		b.probes[b.lead].judged(now).Quality != sensors.QualityGood
	if temperature >= HotAt {
		b.hot = true
	}
	if b.orphaned {
		return
	}
	b.lead, b.last = b.speaker, temperature
	for i, p := range b.probes {
		if r := p.judged(now); r.Quality == sensors.QualityGood {
			c, _ := r.Value.Celsius()
			b.agreed[i] = temperature-c <= twinsAgree
		}
	}
	if temperature < HotBelow {
		b.hot = false
	}
}

// takeForCool takes a person's word that the bath is cool, whatever its probes
// no longer tell.
func (b *bathState) takeForCool() {
	b.hot, b.orphaned, b.lead = false, false, -1
}

// saved gives what must outlive the process.
func (b *bathState) saved() savedBath {
	s := savedBath{Name: b.Name, Hot: b.hot}
	if b.lead >= 0 {
		s.Lead, s.Last = b.probes[b.lead].Name, float64(b.last)
	}
	for i, p := range b.probes {
		if b.agreed[i] {
			s.Agreed = append(s.Agreed, p.Name)
		}
	}
	return s
}

func (b *bathState) restore(s savedBath) {
	b.hot = s.Hot
	for i, p := range b.probes {
		b.agreed[i] = slices.Contains(s.Agreed, p.Name)
		if p.Name == s.Lead {
			b.lead, b.last = i, sensors.Celsius(s.Last)
		}
	}
}

// doubt says in a few words why the bath's temperature is not trusted.
func (b *bathState) doubt() string {
	switch {
	case len(b.probes) == 0:
		return "no probe"
	case b.orphaned:
		return b.probes[b.lead].Title() + " lost, and " + b.probes[b.speaker].Title() + " never agreed with it"
	default:
		return b.reading.Reason.String()
	}
}
