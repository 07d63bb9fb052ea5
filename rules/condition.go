package rules

import (
	"time"

	"simmerline/sensors"
)

// truth is what a condition says: it may not know.
type truth uint8

const (
	unknown truth = iota
	no
	yes
)

func truthOf(b bool) truth {
	if b {
		return yes
	}
	return no
}

// unless is no where something is known not to be so, and unknown otherwise.
func unless(known bool) truth {
	if known {
		return no
	}
	return unknown
}

// The forecast looks back over this long, or longer for a probe that is heard
// seldom, and stays silent over smaller slopes.
const (
	forecastSpan  = 90 * time.Second
	forecastSlope = 0.3 // K a minute
)

// forecastOver is how long the forecast of a probe looks back.
func (c *channelState) forecastOver() time.Duration { return max(forecastSpan, 2*c.SilentAfter) }

// conditionState is one condition, bound to what it looks at.
type conditionState struct {
	Condition
	bath    *bathState
	channel *channelState
	port    []*channelState // the channels of the port, for PortLost
	was     bool            // true when last known: the deadband counts only then
	found   truth           // as of the last step
	trigger Trigger         // what it saw then

	// acked says that somebody acknowledged while it was true, and ackValue what
	// was shown then.
	acked    bool
	ackValue float64
}

// lookingBack is the channel whose past the condition looks at now.
func (c *conditionState) lookingBack() *channelState {
	if c.bath != nil {
		return c.bath.probes[c.bath.speaker]
	}
	return c.channel
}

// past gives what a channel did over the time that the condition looks back on,
// nil where it does not look back.
func (c *conditionState) past(of *channelState) *series {
	switch c.Kind {
	case Rising, Falling, Stuck:
		return of.keep(c.Window)
	case ReachesWithin:
		return of.keep(of.forecastOver())
	default:
		return nil
	}
}

// evaluate says whether the condition holds at this moment, and by what.
func (c *conditionState) evaluate(now time.Duration, deadband float64, e *Engine) {
	found, trigger := c.judge(now, deadband, e)
	if found == no && c.was && c.bath != nil && c.bath.orphaned {
		found = unknown // what made it true is lost, and what is left never agreed
	}
	if c.bath != nil && c.bath.orphaned && found != yes {
		trigger.Value = sensors.Value{}
	}
	if found != unknown {
		c.was = found == yes
	}
	c.found, c.trigger = found, trigger
}

// look gives what the condition looks at, and says what that is.
func (c *conditionState) look(now time.Duration, e *Engine) (sensors.Reading, Trigger) {
	trigger := Trigger{Port: c.Port}
	var reading sensors.Reading
	switch {
	case c.bath != nil:
		reading = c.bath.reading
		trigger.Bath = c.bath.Name
	case c.channel != nil:
		reading = c.channel.judged(now)
	}
	trigger.Channel, trigger.Value = reading.Channel, reading.Value
	trigger.Reason, trigger.At = reading.Reason, reading.At
	if c.Kind.TakesSetpoint() {
		trigger.Setpoint, trigger.HasSetpoint = c.threshold(e), true
	}
	return reading, trigger
}

func (c *conditionState) judge(now time.Duration, deadband float64, e *Engine) (truth, Trigger) {
	reading, trigger := c.look(now, e)
	switch c.Kind {
	case NobodyToCall:
		return truthOf(e.AnyHot() && !e.facts.CanCall), trigger
	case RecordFailing:
		return truthOf(e.facts.RecordFails != ""), trigger
	case WasDark:
		return truthOf(e.darkUntold), trigger
	case PortLost:
		return c.portLost(now), trigger
	case Silent, Lost, OutOfRange, LostWhileHot, WarmingWhileHot, NotTrustedWhileCool:
		trigger.Value = sensors.Value{} // the matter is trust, not the number
		return c.trust(now, reading, e.AnyHot()), trigger
	case OverRange:
		if c.channel.overRange(reading) {
			return yes, trigger
		}
		return unless(reading.Quality == sensors.QualityGood), trigger
	case Rising, Falling, Stuck, ReachesWithin:
		if reading.Quality != sensors.QualityGood {
			return unknown, trigger
		}
		return c.lookBack(now, deadband), trigger
	default:
		return c.level(reading, deadband, trigger.Setpoint, e.AnyHot()), trigger
	}
}

// threshold is the setpoint in the unit of what is looked at.
func (c *conditionState) threshold(e *Engine) float64 {
	switch c.Kind {
	case NearBoiling:
		return float64(e.setup.Boiling) - c.Setpoint
	case BoiledDry:
		return float64(e.setup.Boiling) + c.Setpoint
	default:
		return c.Setpoint
	}
}

// level judges the conditions on one number or contact.
func (c *conditionState) level(r sensors.Reading, deadband, threshold float64, hot bool) truth {
	// A gas that rose beside a hot bath is not gone because the bath cools.
	needsHot := c.Kind == AboveWhileHot && !c.was || c.Kind == OpenWhileHot
	if needsHot && !hot {
		return no
	}
	if c.channel != nil && c.channel.overRange(r) {
		return truthOf(c.Kind == Above || c.Kind == AboveWhileHot || c.Kind == Outside)
	}
	if r.Quality != sensors.QualityGood {
		return unknown
	}
	v := r.Value.Number()
	if !c.was {
		deadband = 0
	}
	switch c.Kind {
	case Above, AboveWhileHot, NearBoiling, BoiledDry:
		return truthOf(v >= threshold-deadband)
	case Below:
		return truthOf(v <= threshold+deadband)
	case Outside:
		return truthOf(v >= threshold-deadband || v <= c.SetpointLow+deadband)
	case ContactOpen, OpenWhileHot:
		return truthOf(v == 0)
	case ContactClosed:
		return truthOf(v != 0)
	default:
		return unknown
	}
}

// trust judges the conditions on whether a channel can be believed. Of what has
// not been heard yet nothing is known: it is neither lost nor found.
func (c *conditionState) trust(now time.Duration, r sensors.Reading, hot bool) truth {
	silent := c.channel.silent(now)
	unheard := r.Quality == sensors.QualityUnknown
	notYet := unheard || r.Quality == sensors.QualityUncertain || r.Quality == sensors.QualityBad &&
		(r.Reason == sensors.ReasonWarmingUp || r.Reason == sensors.ReasonSettling)
	bad := r.Quality == sensors.QualityBad && !notYet && !c.channel.overRange(r)
	switch c.Kind {
	case Silent:
		if unheard {
			return unknown
		}
		return truthOf(silent)
	case OutOfRange:
		if unheard || silent {
			return unknown
		}
		return truthOf(bad)
	case Lost:
		if notYet {
			return unknown // a doubtful number neither loses a probe nor finds it
		}
		return truthOf(bad)
	case LostWhileHot:
		if hot && unheard {
			return unknown
		}
		return truthOf(hot && bad)
	case WarmingWhileHot:
		return truthOf(hot && notYet)
	default: // NotTrustedWhileCool
		return truthOf(!hot && (bad || notYet))
	}
}

// portLost judges whether a whole port has gone quiet.
func (c *conditionState) portLost(now time.Duration) truth {
	found := truthOf(len(c.port) > 0)
	for _, channel := range c.port {
		switch {
		case channel.silent(now):
		case channel.heard:
			return no
		default:
			found = unknown
		}
	}
	return found
}

// lookBack judges the conditions on what a channel or bath did of late.
func (c *conditionState) lookBack(now time.Duration, deadband float64) truth {
	if !c.was {
		deadband = 0
	}
	switch c.Kind {
	case ReachesWithin:
		return c.reaches(now, deadband)
	case Stuck:
		part, covered := c.past(c.lookingBack()).recent(now, 0.95)
		if !covered {
			return unknown
		}
		return truthOf(extent(part) < c.Setpoint+deadband)
	default:
		part, covered := c.past(c.lookingBack()).recent(now, 0.5)
		if !covered {
			return unknown
		}
		rate, _, _ := slope(part)
		if c.Kind == Falling {
			rate = -rate
		}
		return truthOf(rate >= c.Setpoint-deadband)
	}
}

// reaches judges whether a bath will be at its setpoint within the window, by
// the straight line through its last ninety seconds or so. It does not know where the
// line does not fit, and says no where the bath hardly rises.
func (c *conditionState) reaches(now time.Duration, deadband float64) truth {
	past := c.past(c.lookingBack())
	part, covered := past.recent(now, 0.6)
	if !covered {
		return unknown
	}
	perMinute, newest, residual := slope(part)
	switch {
	case newest >= c.Setpoint-deadband:
		return yes
	case perMinute < forecastSlope:
		return no
	case residual > max(0.5, perMinute*past.span.Minutes()/3):
		return unknown
	}
	ahead := c.Window
	if c.was {
		ahead += ahead / 5 // clears a fifth later than it came, so that it does not flicker
	}
	minutes := (c.Setpoint - newest) / perMinute
	return truthOf(minutes <= ahead.Minutes())
}
