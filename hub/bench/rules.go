package bench

import (
	"fmt"
	"slices"
	"time"

	"go.yaml.in/yaml/v3"

	"simmerline/rules"
	"simmerline/sensors"
)

// Bounds on the words and delays of a rule.
const (
	longestMeans    = 80
	longestDo       = 160
	longestOnDelay  = 10 * time.Minute
	longestOffDelay = time.Hour
)

var priorityWords = []string{rules.Caution.String(), rules.Warning.String(), rules.Danger.String()}

// subjectKeys are the keys of a rule's condition.
var subjectKeys = []string{"when", "any", "bath", "channel", "port", "band"}

// readRules reads changes to built-in rules, known by their names, and rules of
// the file's own.
func (d *draft) readRules(entries []*yaml.Node) {
	builtIn := rules.Defaults(d.setup)
	var own []rules.Rule
	taken := map[string]place{}
	for i, n := range entries {
		s, name, ok := d.named(n, "rule", i+1, taken)
		if !ok {
			continue
		}
		if name != "" {
			d.ruleAt[name] = s.placeOf("name")
		}
		at := slices.IndexFunc(builtIn, func(r rules.Rule) bool { return r.Name == name })
		var r rules.Rule
		switch {
		case at >= 0:
			r, ok = d.change(s, builtIn[at])
		case s.has("when") || s.has("any"):
			r, ok = d.own(s)
		default:
			d.unknownRule(s, name, builtIn)
			continue
		}
		s.done()
		if ok && name != "" {
			r.Name = name
			switch {
			case s.has("setpoint"):
				d.setpointAt[name] = s.placeOf("setpoint")
			case at < 0:
				d.setpointAt[name] = d.ruleAt[name]
			}
			own = append(own, r)
		}
	}
	d.setup.Rules = d.follow(builtIn, own)
}

// unknownRule reports a rule that is neither built in nor complete.
func (d *draft) unknownRule(s *section, name string, builtIn []rules.Rule) {
	if name == "" || d.nameless {
		return
	}
	var names []string
	for _, r := range builtIn {
		names = append(names, r.Name)
	}
	mend := "write when: and a condition, or the name of a built-in rule: " + listed(names[:min(len(names), 12)])
	if near := nearest(name, names); near != "" {
		mend = "did you mean " + near + "?"
	}
	d.c.fault(s.placeOf("name"), mend, "no built-in rule of this bench is called %s, and it has no when of its own", quote(name))
}

// change puts what the file says over a built-in rule.
func (d *draft) change(s *section, r rules.Rule) (rules.Rule, bool) {
	r.Any = slices.Clone(r.Any)
	s.misplaced("can't be changed in a built-in rule", "take it out, or give the rule another name", subjectKeys...)
	first := &r.Any[0]
	q := d.quantityOf(*first)
	setpoint, _ := dimensions(first.Kind, q)
	if first.Kind.TakesSetpoint() {
		if v, ok := s.quantity("setpoint", setpoint); ok {
			if q == sensors.GasLevel && first.Setpoint > 0 {
				r.Deadband *= v / first.Setpoint // a share of the setpoint
			}
			if v <= 0 {
				s.trouble("setpoint", &problem{"it must be more than 0", "write it as " + setpoint.example})
			}
			first.Setpoint, r.Whose = v, "set in the bench file"
		}
	} else {
		s.misplaced("means nothing in a rule without a figure", "take it out", "setpoint", "deadband")
	}
	for i := range r.Any {
		if r.Any[i].Kind.TakesWindow() {
			r.Any[i].Window = s.duration("window", shortestWindow, longestWindow, r.Any[i].Window)
		}
	}
	s.misplaced("means nothing in this rule", "take it out", "window")
	if r.Class.KeepsAway() {
		s.misplaced("is fixed in a fume rule, so that no words send anybody into gas", "take it out", "means", "do")
	} else {
		d.words(s, &r, false)
	}
	d.life(s, &r)
	return r, true
}

// own reads a rule that is not built in.
func (d *draft) own(s *section) (r rules.Rule, ok bool) {
	ok = true
	if s.has("any") {
		s.misplaced("stands beside any", "move it into the list under any", "when", "bath", "channel", "port", "setpoint", "band", "window")
		entries := s.list("any", "any: [{when: above, channel: rinse, setpoint: 40 C}]")
		for i, n := range entries {
			part, mapped := d.c.section(n, fmt.Sprintf("%s, condition %d", s.what, i+1), "{when: above, channel: rinse, setpoint: 40 C}")
			if !mapped {
				ok = false
				continue
			}
			cond, usable := d.condition(part)
			part.done()
			r.Any, ok = append(r.Any, cond), ok && usable
		}
		ok = ok && len(entries) > 0
		if s.emptyList("any") {
			s.trouble("any", &problem{"there is no condition in it", "list at least one"})
		}
	} else {
		cond, usable := d.condition(s)
		r.Any, ok = []rules.Condition{cond}, ok && usable
	}
	s.need("priority", "and one of "+listed(priorityWords))
	d.life(s, &r)
	if !ok {
		s.known = append(s.known, "means", "do")
		return r, false
	}
	r.Subject = d.title(r.Any[0])
	d.classify(s, &r)
	r.Whose = "set in the bench file"
	return r, true
}

// classify says among which alarms a rule of the file speaks, and takes its
// words. What is said of gas in the room is fixed.
func (d *draft) classify(s *section, r *rules.Rule) {
	r.Class = rules.EverythingElse
	for _, cond := range r.Any {
		switch level := cond.Kind.TakesSetpoint() && d.quantityOf(cond) == sensors.GasLevel; {
		case level && r.Priority >= rules.Warning:
			r.Class = rules.FumeDanger
		case r.Class == rules.EverythingElse && cond.Bath != "" && r.Priority >= rules.Warning:
			r.Class = rules.BathDanger
		}
	}
	if r.Class != rules.FumeDanger {
		d.words(s, r, true)
		return
	}
	r.Words = fumeWords(r.Priority)
	s.misplaced("is fixed in a rule about gas, so that no words send anybody into it", "take it out", "means", "do")
}

// fumeWords are what the built-in rules say of a gas with no name of its own.
func fumeWords(p rules.Priority) rules.Words {
	for _, r := range rules.Defaults(rules.Setup{Channels: []rules.Channel{
		{Name: "gas", Quantity: sensors.GasLevel, Gas: sensors.CarbonMonoxide}}}) {
		if r.Class == rules.FumeDanger && r.Priority == p {
			return r.Words
		}
	}
	return rules.Words{}
}

// words reads what an alarm says. Words of the file are marked as its own: what
// they ask can't be known.
func (d *draft) words(s *section, r *rules.Rule, needed bool) {
	if needed {
		s.need("means", "and what is so, as the rinse is warm")
		s.need("do", "and what to do then, as Change the rinse water.")
		r.Words.NearBench = true
	}
	if means := s.text("means", longestMeans); means != "" {
		r.Words.Means, r.Words.Own = means, true
	}
	if do := s.text("do", longestDo); do != "" {
		r.Words.Do, r.Words.Own = do, true
		r.Words.Still, r.Words.Cleared = "", ""
	}
}

// life reads what makes a condition an alarm: deadband, delays, priority, latching.
func (d *draft) life(s *section, r *rules.Rule) {
	if dim, same := d.deadbandDimension(r.Any); s.has("deadband") && dim.is == "" {
		if same {
			s.misplaced("means nothing in a rule without a figure", "take it out", "deadband")
		} else {
			s.take("deadband")
			s.trouble("deadband", &problem{"the conditions are measured in different units", "make a rule of each, or take the deadband out"})
		}
	} else if v, ok := s.quantity("deadband", dim); ok {
		if r.Deadband = v; v < 0 {
			s.trouble("deadband", &problem{"it can't be negative", "write it without a sign, as " + dim.example})
		}
	}
	r.OnDelay = s.duration("on_delay", 0, longestOnDelay, r.OnDelay)
	r.OffDelay = s.duration("off_delay", 0, longestOffDelay, r.OffDelay)
	if i, ok := s.choice("priority", priorityWords...); ok {
		r.Priority = rules.Priority(i + 1)
	}
	if latching, ok := s.flag("latching"); ok {
		r.Latching = latching
	}
	if inUse, ok := s.flag("while_in_use"); ok {
		r.WhileInUse = inUse
	}
}

// deadbandDimension gives the one dimension of all conditions with a figure;
// the empty one where there is none (same is then true) or several.
func (d *draft) deadbandDimension(any []rules.Condition) (dim dimension, same bool) {
	for _, cond := range any {
		if !cond.Kind.TakesSetpoint() {
			continue
		}
		_, deadband := dimensions(cond.Kind, d.quantityOf(cond))
		if dim.is != "" && dim.is != deadband.is {
			return dimension{}, false
		}
		dim = deadband
	}
	return dim, true
}

// title is what people call what a condition looks at.
func (d *draft) title(cond rules.Condition) string {
	if b := d.bath(cond.Bath); b != nil {
		return b.Title()
	}
	if ch := d.channel(cond.Channel); ch != nil {
		return ch.rule.Title()
	}
	return cond.Port
}
