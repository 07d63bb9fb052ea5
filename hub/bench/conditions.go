package bench

import (
	"fmt"
	"slices"
	"time"

	"simmerline/rules"
	"simmerline/sensors"
)

// Bounds on the window of a condition.
const (
	shortestWindow = 10 * time.Second
	longestWindow  = 2 * time.Hour
)

// conditionKinds are the kinds that a rule of the file may use: those that look
// at something.
func conditionKinds() (words []string) {
	for k := rules.KindUnspecified + 1; k.String() != rules.KindUnspecified.String(); k++ {
		if k.TakesBath() || k.TakesChannel() || k.TakesPort() {
			words = append(words, k.String())
		}
	}
	return words
}

// dimensions gives what the setpoint and the deadband of a condition are
// measured in, for a condition that looks at the given quantity.
func dimensions(k rules.Kind, q sensors.Quantity) (setpoint, deadband dimension) {
	value, difference, rate := of(q)
	switch k {
	case rules.NearBoiling, rules.BoiledDry:
		return kelvins, kelvins
	case rules.Rising, rules.Falling:
		return rate, rate
	case rules.Stuck:
		return difference, difference
	default:
		return value, difference
	}
}

// quantityOf tells what a condition looks at; a bath is a temperature.
func (d *draft) quantityOf(cond rules.Condition) sensors.Quantity {
	if cond.Bath != "" {
		return sensors.Temperature
	}
	if ch := d.channel(cond.Channel); ch != nil {
		return ch.Quantity
	}
	return sensors.QuantityUnspecified
}

// condition reads one condition of a rule; ok is false where it can't be used.
func (d *draft) condition(s *section) (cond rules.Condition, ok bool) {
	words := conditionKinds()
	i, ok := s.choice("when", words...)
	if !ok {
		s.need("when", "and one of "+listed(words))
		s.known = append(s.known, "bath", "channel", "port", "setpoint", "band", "window")
		return cond, false
	}
	cond.Kind, _ = rules.ParseKind(words[i])
	if !d.subject(s, &cond) {
		s.known = append(s.known, "setpoint", "band", "window")
		return cond, false
	}
	q := d.quantityOf(cond)
	if wanted := fits(cond.Kind, q); wanted != "" {
		s.trouble("when", &problem{fmt.Sprintf("%s needs %s, not a %s", cond.Kind, wanted, q), "look at another channel, or for something else"})
		s.known = append(s.known, "setpoint", "band", "window")
		return cond, false
	}
	setpoint, _ := dimensions(cond.Kind, q)
	ok = d.figures(s, &cond, setpoint)
	if cond.Kind.TakesWindow() {
		s.need("window", "and over how long, as 1 min")
		cond.Window = s.duration("window", shortestWindow, longestWindow, time.Minute)
	}
	none := fmt.Sprintf("means nothing for when: %s", cond.Kind)
	s.misplaced(none, "take it out", "setpoint", "band", "window")
	return cond, ok
}

// figures reads the setpoint of a condition, or the band of outside.
func (d *draft) figures(s *section, cond *rules.Condition, setpoint dimension) (ok bool) {
	switch {
	case cond.Kind == rules.Outside:
		s.need("band", "and both edges, as 20..40 "+setpoint.units[0].word)
		cond.SetpointLow, cond.Setpoint, ok = s.span("band", setpoint)
		return ok
	case !cond.Kind.TakesSetpoint():
		return true
	}
	s.need("setpoint", "and a figure with its unit, as "+setpoint.example)
	cond.Setpoint, ok = s.quantity("setpoint", setpoint)
	if ok && cond.Setpoint <= 0 && slices.Contains([]rules.Kind{
		rules.NearBoiling, rules.BoiledDry, rules.Rising, rules.Falling, rules.Stuck}, cond.Kind) {
		s.trouble("setpoint", &problem{fmt.Sprintf("%s must be more than 0", cond.Kind), "write it without a sign, as " + setpoint.example})
		return false
	}
	return ok
}

// fits says what a kind of condition wants to look at, where q is not that.
func fits(k rules.Kind, q sensors.Quantity) string {
	switch k {
	case rules.ContactOpen, rules.ContactClosed, rules.OpenWhileHot:
		if q != sensors.Contact {
			return "a contact"
		}
	case rules.AboveWhileHot:
		if q != sensors.GasLevel {
			return "a gas"
		}
	default:
		if k.TakesSetpoint() && q == sensors.Contact {
			return "something with a figure"
		}
	}
	return ""
}

// subject reads which bath, channel or port a condition looks at.
func (d *draft) subject(s *section, cond *rules.Condition) bool {
	takes := map[string]bool{"bath": cond.Kind.TakesBath(), "channel": cond.Kind.TakesChannel(), "port": cond.Kind.TakesPort()}
	var may, given []string
	for _, key := range []string{"bath", "channel", "port"} {
		s.known = append(s.known, key)
		if takes[key] {
			may = append(may, key)
		}
		if s.has(key) {
			given = append(given, key)
		}
	}
	switch {
	case len(given) == 0:
		d.c.fault(s.at, fmt.Sprintf("write %s: and its name", listed(may)), "%s does not say what to look at", s.what)
		return false
	case len(given) > 1:
		d.c.fault(s.placeOf(given[1]), "keep one; with any: a rule may have several conditions", "%s looks at several things at once", s.what)
		return false
	case !takes[given[0]]:
		d.c.fault(s.placeOf(given[0]), "write "+listed(may)+": instead", "%s: %s does not look at a %s", s.what, cond.Kind, given[0])
		return false
	}
	key := given[0]
	name, ok := s.scalar(key)
	if !ok {
		return false
	}
	var known bool
	var names []string
	switch key {
	case "bath":
		b := d.bath(name)
		cond.Bath, known = name, b != nil && len(b.Probes) > 0
		for _, b := range d.baths {
			names = append(names, b.Name)
		}
		if b != nil && !known {
			return false // a bath without probes is reported where it stands
		}
	case "channel":
		cond.Channel, known = name, d.channel(name) != nil
		for _, ch := range d.allChannels() {
			names = append(names, ch.Name)
		}
	default:
		cond.Port = name
		for _, p := range d.ports {
			names = append(names, p.config.Name)
			known = known || p.config.Name == name && len(p.channels) > 0
		}
	}
	if known {
		return true
	}
	if !d.nameless {
		mend := "name one of " + listed(names[:min(len(names), 12)])
		if near := nearest(name, names); near != "" {
			mend = "did you mean " + near + "?"
		} else if len(names) == 0 {
			mend = "add one"
		}
		s.trouble(key, &problem{fmt.Sprintf("there is no %s %s", key, quote(name)), mend})
	}
	return false
}
