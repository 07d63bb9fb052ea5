package rules

import (
	"time"

	"simmerline/sensors"
)

// How long a channel may be silent where the bench file does not say.
const defaultSilentAfter = 10 * time.Second

// A bath is hot from HotAt on, and until it falls below HotBelow. HotAt is also
// the temperature below which the bench may be put away.
const (
	HotAt    sensors.Celsius = 40
	HotBelow sensors.Celsius = 38
)

// channelState is what the engine keeps of one channel.
type channelState struct {
	Channel
	latest  sensors.Reading // the newest reading, whatever its quality
	heard   bool            // any reading since the engine began
	since   time.Duration   // when the engine began to listen, for channels never heard
	gone    bool            // its port has gone
	history series          // good values, kept only where a rule looks back
}

// receive takes a reading that is newer than the last one.
func (c *channelState) receive(r sensors.Reading) {
	if c.heard && r.At < c.latest.At {
		return // late: its moment has passed
	}
	c.latest, c.heard, c.gone = r, true, false
	if r.Quality == sensors.QualityGood {
		c.history.add(r.At, r.Value.Number())
	}
}

// forget makes the channel as one that has not been heard since now.
func (c *channelState) forget(now time.Duration) {
	c.latest, c.heard, c.since = sensors.Reading{}, false, now
	c.history.clear()
}

// judged is the newest reading as it stands now: silence and unplugging turn it
// bad, and a bad reading carries no value.
func (c *channelState) judged(now time.Duration) sensors.Reading {
	r := c.latest
	switch {
	case c.gone:
		r.Quality, r.Reason, r.Value = sensors.QualityBad, sensors.ReasonUnplugged, sensors.Value{}
	case now-c.lastHeard() > c.SilentAfter:
		r.Quality, r.Reason, r.Value = sensors.QualityBad, sensors.ReasonSilent, sensors.Value{}
	case !c.heard:
		r.Quality, r.Reason = sensors.QualityUnknown, sensors.ReasonNotHeard
	}
	r.Channel = c.Name
	return r
}

func (c *channelState) lastHeard() time.Duration {
	if c.heard {
		return c.latest.At
	}
	return c.since
}

// silent says whether the channel has been unheard for longer than its limit.
func (c *channelState) silent(now time.Duration) bool {
	return c.gone || now-c.lastHeard() > c.SilentAfter
}

// bathState is what the engine keeps of one bath.
type bathState struct {
	Bath
	probes  []*channelState
	hot     bool // as of the last good reading: unknown does not cool a bath
	history series
}

// governing is the reading that speaks for the bath: the highest good one of
// its probes. Without a good one it is the first that is not good, so that its
// reason is shown.
func (b *bathState) governing(now time.Duration) sensors.Reading {
	var best sensors.Reading
	for i, p := range b.probes {
		r := p.judged(now)
		switch {
		case i == 0:
			best = r
		case r.Quality != sensors.QualityGood:
			if best.Quality != sensors.QualityGood && worthShowing(r) > worthShowing(best) {
				best = r
			}
		case best.Quality != sensors.QualityGood || r.Value.Number() > best.Value.Number():
			best = r
		}
	}
	return best
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
	r := b.governing(now)
	temperature, ok := r.Value.Celsius()
	if !ok || r.Quality != sensors.QualityGood {
		return
	}
	b.history.add(r.At, float64(temperature))
	switch {
	case temperature >= HotAt:
		b.hot = true
	case temperature < HotBelow:
		b.hot = false
	}
}
