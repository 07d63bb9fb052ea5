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

// The forecast looks back over this long, and stays silent over smaller slopes.
const (
	forecastSpan  = 90 * time.Second
	forecastSlope = 0.3 // K a minute
)

// conditionState is one condition, bound to what it looks at.
type conditionState struct {
	Condition
	bath    *bathState
	channel *channelState
	port    []*channelState // the channels of the port, for PortLost
	was     bool            // true when last known: the deadband counts only then
}

// needsHistory is how far back the condition looks.
func (c *conditionState) needsHistory() time.Duration {
	switch c.Kind {
	case Rising, Falling, Stuck:
		return c.Window
	case ReachesWithin:
		return forecastSpan
	default:
		return 0
	}
}

// evaluate says whether the condition holds at this moment, and by what.
func (c *conditionState) evaluate(now time.Duration, deadband float64, e *Engine) (truth, Trigger) {
	found, trigger := c.judge(now, deadband, e)
	if found != unknown {
		c.was = found == yes
	}
	return found, trigger
}

func (c *conditionState) judge(now time.Duration, deadband float64, e *Engine) (truth, Trigger) {
	var trigger Trigger
	var reading sensors.Reading
	switch {
	case c.bath != nil:
		reading = c.bath.governing(now)
		trigger.Bath = c.bath.Name
	case c.channel != nil:
		reading = c.channel.judged(now)
	}
	trigger.Channel, trigger.Value, trigger.Reason = reading.Channel, reading.Value, reading.Reason
	trigger.Port, trigger.At = c.Port, reading.At
	if c.Kind.TakesSetpoint() {
		trigger.Setpoint, trigger.HasSetpoint = c.threshold(e), true
	}
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
	case Rising, Falling, Stuck, ReachesWithin:
		found := c.lookBack(now, deadband)
		return found, trigger
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
	needsHot := c.Kind == AboveWhileHot || c.Kind == OpenWhileHot
	if needsHot && !hot {
		return no
	}
	if r.Quality == sensors.QualityBad && r.Reason == sensors.ReasonOverRange {
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

// trust judges the conditions on whether a channel can be believed.
func (c *conditionState) trust(now time.Duration, r sensors.Reading, hot bool) truth {
	silent := c.channel.silent(now)
	bad := r.Quality == sensors.QualityBad && r.Reason != sensors.ReasonOverRange
	notYet := r.Quality == sensors.QualityUncertain || r.Quality == sensors.QualityUnknown
	switch c.Kind {
	case Silent:
		return truthOf(silent)
	case OutOfRange:
		return truthOf(bad && !silent)
	case Lost:
		if r.Quality == sensors.QualityUncertain {
			return unknown // a doubtful number neither loses a probe nor finds it
		}
		return truthOf(silent || bad)
	case LostWhileHot:
		return truthOf(hot && (silent || bad))
	case WarmingWhileHot:
		return truthOf(hot && notYet)
	default: // NotTrustedWhileCool
		return truthOf(!hot && (silent || bad || notYet))
	}
}

// portLost judges whether a whole port has gone quiet.
func (c *conditionState) portLost(now time.Duration) truth {
	for _, channel := range c.port {
		if !channel.silent(now) {
			return no
		}
	}
	return truthOf(len(c.port) > 0)
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
		part, covered := c.history().last(now, c.Window, 0.95)
		if !covered {
			return unknown
		}
		return truthOf(extent(part) < c.Setpoint+deadband)
	default:
		part, covered := c.history().last(now, c.Window, 0.5)
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

func (c *conditionState) history() *series {
	if c.bath != nil {
		return &c.bath.history
	}
	return &c.channel.history
}

// reaches judges whether a bath will be at its setpoint within the window, by
// the straight line through its last ninety seconds. It does not know where the
// line does not fit, and says no where the bath hardly rises.
func (c *conditionState) reaches(now time.Duration, deadband float64) truth {
	part, covered := c.history().last(now, forecastSpan, 0.6)
	if !covered {
		return unknown
	}
	perMinute, newest, residual := slope(part)
	switch {
	case newest >= c.Setpoint-deadband:
		return yes
	case perMinute < forecastSlope:
		return no
	case residual > max(0.5, perMinute*forecastSpan.Minutes()/3):
		return unknown
	}
	ahead := c.Window
	if c.was {
		ahead += ahead / 5 // clears a fifth later than it came, so that it does not flicker
	}
	minutes := (c.Setpoint - newest) / perMinute
	return truthOf(minutes <= ahead.Minutes())
}
