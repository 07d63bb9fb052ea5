package rules

import (
	"time"

	"simmerline/sensors"
)

// How long a channel may be silent where the bench file does not say.
const defaultSilentAfter = 10 * time.Second

// channelState is what the engine keeps of one channel.
type channelState struct {
	Channel
	latest sensors.Reading // the newest reading, whatever its quality
	heard  bool            // there is one since the channel was last listened to anew
	since  time.Duration   // from when on it is listened to; what is older says nothing
	gone   bool            // its port has gone
	kept   []*series       // good values, one series for each span that a rule looks back over
}

// receive takes a reading that has come by now. One that is older than the last
// one, or than a gap, says nothing of the present and is passed over. One
// stamped in the future counts as of now, so that silence after it is noticed.
func (c *channelState) receive(r sensors.Reading, now time.Duration) {
	r.At = min(r.At, now)
	if r.At < c.since || c.heard && r.At < c.latest.At {
		return
	}
	if c.gone && r.Reason == sensors.ReasonUnplugged {
		return // the port's own word says it already
	}
	r = c.honest(r)
	c.latest, c.heard, c.gone = r, true, false
	if r.Quality == sensors.QualityGood {
		for _, s := range c.kept {
			s.add(r.At, r.Value.Number())
		}
	}
}

// honest makes a reading keep its promises, so that nothing past this point
// meets trust without a number of the right kind, or a number without trust.
func (c *channelState) honest(r sensors.Reading) sensors.Reading {
	switch r.Quality {
	case sensors.QualityGood, sensors.QualityUncertain:
		if r.Value.Quantity() != c.Quantity {
			r.Quality, r.Reason, r.Value = sensors.QualityBad, sensors.ReasonNotANumber, sensors.Value{}
		}
	case sensors.QualityUnknown:
		r.Reason, r.Value = sensors.ReasonNotHeard, sensors.Value{}
	case sensors.QualityBad:
		r.Value = sensors.Value{}
	default:
		r.Quality, r.Reason, r.Value = sensors.QualityBad, sensors.ReasonDeviceFault, sensors.Value{}
	}
	return r
}

// portChanged notes that the channel's port has gone, or has come back. Either
// way what was heard before is no longer known to hold.
func (c *channelState) portChanged(gone bool, now time.Duration) {
	switch {
	case gone:
		c.gone, c.since = true, now // what it last said is kept for its age
	case c.gone:
		c.gone = false
		c.forget(now)
	}
	c.forgetTrends()
}

// forget makes the channel as one that has not been heard since now.
func (c *channelState) forget(now time.Duration) {
	c.latest, c.heard, c.since = sensors.Reading{}, false, now
	c.forgetTrends()
}

func (c *channelState) forgetTrends() {
	for _, s := range c.kept {
		s.clear()
	}
}

// keep gives the series of the channel's good values over a span of time.
func (c *channelState) keep(span time.Duration) *series {
	for _, s := range c.kept {
		if s.span == span {
			return s
		}
	}
	s := newSeries(span, c.SilentAfter)
	c.kept = append(c.kept, s)
	return s
}

// judged is the newest reading as it stands now: silence and unplugging turn it
// bad, and a bad reading carries no value.
func (c *channelState) judged(now time.Duration) sensors.Reading {
	r := c.latest
	switch {
	case c.gone:
		r.Quality, r.Reason, r.Value = sensors.QualityBad, sensors.ReasonUnplugged, sensors.Value{}
	case c.silent(now):
		r.Quality, r.Reason, r.Value = sensors.QualityBad, sensors.ReasonSilent, sensors.Value{}
	case !c.heard:
		r.Quality, r.Reason = sensors.QualityUnknown, sensors.ReasonNotHeard
	}
	r.Channel = c.Name
	return r
}

// silent says whether the channel has been unheard for longer than its limit.
func (c *channelState) silent(now time.Duration) bool {
	last := c.since
	if c.heard {
		last = c.latest.At
	}
	return c.gone || now-last > c.SilentAfter
}

// overRange says whether a reading is of a gas beyond what its cell can show,
// which is danger. Beyond the range of anything else is only a fault.
func (c *channelState) overRange(r sensors.Reading) bool {
	return c.Quantity == sensors.GasLevel && r.Quality == sensors.QualityBad && r.Reason == sensors.ReasonOverRange
}
