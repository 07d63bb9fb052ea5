package rules

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"simmerline/sensors"
)

// merged gives the built-in rules with the setup's own put over them by name,
// then the setup's new ones; and every fault of the setup in one error.
func (s Setup) merged() ([]Rule, error) {
	rules := Defaults(s)
	place := make(map[string]int)
	for i, r := range rules {
		place[r.Name] = i
	}
	for _, r := range s.Rules {
		if i, built := place[r.Name]; built {
			rules[i] = r
		} else {
			place[r.Name] = len(rules)
			rules = append(rules, r)
		}
	}
	return rules, errors.Join(append(s.nameFaults(), s.ruleFaults(rules)...)...)
}

func (s Setup) nameFaults() []error {
	var faults []error
	say := func(format string, args ...any) { faults = append(faults, fmt.Errorf("rules: "+format, args...)) }
	channels := make(map[string]Channel)
	for _, c := range s.Channels {
		if _, twice := channels[c.Name]; twice || c.Name == "" {
			say("channel name %q is empty or used twice", c.Name)
		}
		channels[c.Name] = c
		if c.Quantity == sensors.QuantityUnspecified {
			say("channel %s has no quantity", c.Name)
		}
		if c.SilentAfter < 0 {
			say("channel %s can't be silent for less than no time", c.Name)
		}
		if !(c.Noise >= 0) || math.IsInf(float64(c.Noise), 0) {
			say("channel %s: a noise of %v ppm is none", c.Name, float64(c.Noise))
		}
	}
	baths := make(map[string]bool)
	for _, b := range s.Baths {
		if baths[b.Name] || b.Name == "" {
			say("bath name %q is empty or used twice", b.Name)
		}
		baths[b.Name] = true
		for i, p := range b.Probes {
			switch c, there := channels[p]; {
			case !there:
				say("bath %s: there is no channel %q", b.Name, p)
			case c.Quantity != sensors.Temperature:
				say("bath %s: channel %s is no temperature", b.Name, p)
			case slices.Contains(b.Probes[:i], p):
				say("bath %s: channel %s is named twice", b.Name, p)
			}
		}
		if !finite(float64(b.RangeLow), float64(b.RangeHigh)) {
			say("bath %s: its working range is not two numbers", b.Name)
		}
	}
	if !(s.Boiling >= 50 && s.Boiling <= 110) {
		say("a local boiling point of %s is not credible", s.Boiling)
	}
	if s.ReAlarmAfter < 0 {
		say("an alarm can't sound again after less than no time")
	}
	return faults
}

// finite says whether every number is one.
func finite(numbers ...float64) bool {
	for _, n := range numbers {
		if math.IsNaN(n) || math.IsInf(n, 0) {
			return false
		}
	}
	return true
}

func (s Setup) ruleFaults(rules []Rule) []error {
	var faults []error
	say := func(r Rule, format string, args ...any) {
		faults = append(faults, fmt.Errorf("rules: rule %q: %s", r.Name, fmt.Sprintf(format, args...)))
	}
	seen := make(map[string]bool)
	for _, r := range rules {
		if r.Name == "" || seen[r.Name] {
			say(r, "its name is empty or used twice")
		}
		seen[r.Name] = true
		if r.Priority < Caution || r.Priority > Danger {
			say(r, "it has no priority")
		}
		if r.Class < FumeDanger || r.Class > EverythingElse {
			say(r, "it has no class")
		}
		if r.OnDelay < 0 || r.OffDelay < 0 || r.Deadband < 0 || !finite(r.Deadband) {
			say(r, "delays and deadband can't be negative, and the deadband must be a number")
		}
		if len(r.Any) == 0 {
			say(r, "it has no condition")
		}
		for _, c := range r.Any {
			if fault := s.conditionFault(c); fault != "" {
				say(r, "%s", fault)
			} else if c.Kind == Outside && c.Setpoint-r.Deadband <= c.SetpointLow+r.Deadband {
				say(r, "its deadband fills the band, so that it would never clear")
			}
		}
	}
	return faults
}

// conditionFault says what is wrong with a condition, or nothing.
func (s Setup) conditionFault(c Condition) string {
	if _, known := ParseKind(c.Kind.String()); !known {
		return "a condition has no kind"
	}
	named := 0
	for _, name := range []string{c.Bath, c.Channel, c.Port} {
		if name != "" {
			named++
		}
	}
	looks := c.Kind.TakesBath() || c.Kind.TakesChannel() || c.Kind.TakesPort()
	switch {
	case looks && named != 1, !looks && named != 0,
		c.Bath != "" && !c.Kind.TakesBath(),
		c.Channel != "" && !c.Kind.TakesChannel(),
		c.Port != "" && !c.Kind.TakesPort():
		return fmt.Sprintf("condition %s does not fit what it looks at", c.Kind)
	case c.Bath != "" && !s.hasBath(c.Bath):
		return fmt.Sprintf("there is no bath %q with a probe", c.Bath)
	case c.Channel != "" && !s.hasChannel(c.Channel):
		return fmt.Sprintf("there is no channel %q", c.Channel)
	case c.Port != "" && !s.hasPort(c.Port):
		return fmt.Sprintf("there is no port %q", c.Port)
	case c.Kind.TakesSetpoint() && !finite(c.Setpoint):
		return "its setpoint is not a number"
	case c.Kind == Outside && !(c.SetpointLow < c.Setpoint && finite(c.SetpointLow)):
		return "the lower edge of outside must lie below the upper one"
	case c.Kind == Stuck && c.Setpoint <= 0:
		return "the setpoint of stuck must be more than 0"
	case c.Kind.needs() != sensors.QuantityUnspecified && s.quantity(c.Channel) != c.Kind.needs():
		return fmt.Sprintf("condition %s needs a %s, and channel %s is none", c.Kind, c.Kind.needs(), c.Channel)
	case c.Kind.TakesWindow() && c.Window < 10*spacing:
		return fmt.Sprintf("condition %s needs a window of at least %s", c.Kind, 10*spacing)
	}
	return ""
}

func (s Setup) hasBath(name string) bool {
	for _, b := range s.Baths {
		if b.Name == name {
			return len(b.Probes) > 0
		}
	}
	return false
}

// needs says which quantity a kind of condition is about, where only one will do.
func (k Kind) needs() sensors.Quantity {
	switch k {
	case ContactOpen, ContactClosed, OpenWhileHot:
		return sensors.Contact
	case AboveWhileHot, OverRange:
		return sensors.GasLevel
	default:
		return sensors.QuantityUnspecified
	}
}

func (s Setup) hasChannel(name string) bool {
	return s.quantity(name) != sensors.QuantityUnspecified
}

func (s Setup) hasPort(name string) bool {
	return slices.ContainsFunc(s.Channels, func(c Channel) bool { return c.Port == name })
}

// quantity is what a channel measures, unspecified where there is none.
func (s Setup) quantity(channel string) sensors.Quantity {
	for _, c := range s.Channels {
		if c.Name == channel {
			return c.Quantity
		}
	}
	return sensors.QuantityUnspecified
}
