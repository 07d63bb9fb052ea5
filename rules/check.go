package rules

import (
	"errors"
	"fmt"
	"math"
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
	channels := make(map[string]Channel)
	for _, c := range s.Channels {
		if _, twice := channels[c.Name]; twice || c.Name == "" {
			faults = append(faults, fmt.Errorf("rules: channel name %q is empty or used twice", c.Name))
		}
		channels[c.Name] = c
	}
	baths := make(map[string]bool)
	for _, b := range s.Baths {
		if baths[b.Name] || b.Name == "" {
			faults = append(faults, fmt.Errorf("rules: bath name %q is empty or used twice", b.Name))
		}
		baths[b.Name] = true
		for _, p := range b.Probes {
			if _, there := channels[p]; !there {
				faults = append(faults, fmt.Errorf("rules: bath %s: there is no channel %q", b.Name, p))
			}
		}
	}
	if s.Boiling < 50 || s.Boiling > 110 {
		faults = append(faults, fmt.Errorf("rules: a local boiling point of %s is not credible", s.Boiling))
	}
	return faults
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
		if r.OnDelay < 0 || r.OffDelay < 0 || r.Deadband < 0 || math.IsNaN(r.Deadband) {
			say(r, "delays and deadband can't be negative")
		}
		if len(r.Any) == 0 {
			say(r, "it has no condition")
		}
		for _, c := range r.Any {
			if fault := s.conditionFault(c); fault != "" {
				say(r, "%s", fault)
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
	case c.Kind.TakesSetpoint() && (math.IsNaN(c.Setpoint) || math.IsInf(c.Setpoint, 0)):
		return "its setpoint is not a number"
	case c.Kind == Outside && c.SetpointLow >= c.Setpoint:
		return "the lower edge of outside must lie below the upper one"
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

func (s Setup) hasChannel(name string) bool {
	for _, c := range s.Channels {
		if c.Name == name {
			return true
		}
	}
	return false
}
