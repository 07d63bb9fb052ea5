package rules

import (
	"math"

	"simmerline/sensors"
)

// Worse than acknowledged: a gas at half as much again, a bath three kelvin up.
const (
	worseRatio  = 1.5
	worseKelvin = 3
)

// beyondRange stands for a level that a cell could not show: nothing is worse.
const beyondRange = math.MaxFloat64

// forgetAcknowledged makes what comes next a new matter.
func (a *alarmState) forgetAcknowledged() {
	for _, c := range a.conditions {
		c.acked, c.ackValue = false, 0
	}
}

// acknowledged notes what a person could see of a condition when acknowledging:
// its figure or, where there was none, the setpoint that it had crossed.
func (c *conditionState) acknowledged(e *Engine) {
	switch {
	case c.found == yes && c.channel != nil && c.channel.overRange(c.channel.latest):
		c.acked, c.ackValue = true, beyondRange
	case c.found == yes && c.figure().Known():
		c.acked, c.ackValue = true, c.figure().Number()
	case c.found == yes || c.was:
		c.acked, c.ackValue = true, c.threshold(e)
	}
}

// figure is the number that the condition looks at, if there is one.
func (c *conditionState) figure() sensors.Value {
	switch {
	case c.bath != nil:
		return c.bath.reading.Value
	case c.channel != nil:
		return c.channel.latest.Value
	default:
		return sensors.Value{}
	}
}

// worsened says whether an alarm has become clearly worse than it was when
// somebody acknowledged it: a higher figure, or the same of another channel.
func (a *alarmState) worsened() bool {
	for _, c := range a.conditions {
		if c.found == yes && (c.acked && c.worse() || !c.acked && !a.ackedOf(c)) {
			return true
		}
	}
	return false
}

// ackedOf says whether a condition on the same thing was acknowledged.
func (a *alarmState) ackedOf(c *conditionState) bool {
	for _, other := range a.conditions {
		if other.acked && other.Bath == c.Bath && other.Channel == c.Channel && other.Port == c.Port {
			return true
		}
	}
	return false
}

// worse compares figures where more is worse.
func (c *conditionState) worse() bool {
	switch c.Kind {
	case Above, AboveWhileHot, NearBoiling, BoiledDry, ReachesWithin:
	default:
		return false
	}
	if c.channel != nil && c.channel.overRange(c.channel.latest) {
		return c.ackValue < beyondRange
	}
	if ppm, ok := c.figure().PPM(); ok {
		return float64(ppm) >= c.ackValue*worseRatio
	}
	celsius, ok := c.figure().Celsius()
	return ok && float64(celsius) >= c.ackValue+worseKelvin
}
