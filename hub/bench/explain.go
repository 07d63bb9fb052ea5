package bench

import (
	"fmt"
	"slices"
	"strings"

	"simmerline/rules"
	"simmerline/sensors"
)

// Explain puts an accepted bench into plain lines: the site and its boiling
// point, what is plugged in and how it is guarded, what watches each bath and
// each gas, and the cautions. It ends with a line break.
func Explain(b *Bench) string {
	e := &explainer{b: b, rules: merged(b.Setup)}
	e.line(0, "%s: no fault found in %s", b.Name, b.File)
	e.line(0, "")
	e.line(0, "Water boils at %s here (%s).", b.Units.Temperature(b.Site.Boiling), b.Site.From)
	e.line(0, "Sound: %s.", map[bool]string{true: "none from this hub", false: b.Sound.String()}[b.Sound == SoundNone])
	e.line(0, "")
	e.line(0, "Ports")
	for _, p := range b.Ports {
		e.port(p)
	}
	e.baths()
	e.gases()
	e.rest()
	if len(b.Cautions) > 0 {
		e.line(0, "")
		e.line(0, "Cautions")
		for _, c := range b.Cautions {
			e.line(1, "%d:%d: %s", c.Line, c.Column, c.What)
		}
	}
	e.line(0, "")
	e.line(0, "Simmerline is an aid. It is not a certified gas detector or safety interlock.")
	return e.out.String()
}

type explainer struct {
	b     *Bench
	rules []rules.Rule
	out   strings.Builder
}

func (e *explainer) line(depth int, format string, args ...any) {
	if format != "" {
		e.out.WriteString(strings.Repeat("  ", depth))
		fmt.Fprintf(&e.out, format, args...)
	}
	e.out.WriteByte('\n')
}

func (e *explainer) port(config sensors.PortConfig) {
	p := &port{config: config}
	e.line(1, "%s: %s, at %s; %s", config.Name, p.protocol(), device(config.Address), p.guard())
	for i, ch := range config.Channels() {
		words := e.channel(ch)
		if m := config.Modbus; m != nil && m.Channels[i].Unit != 0 {
			words += fmt.Sprintf("; asked of unit %d", m.Channels[i].Unit)
		}
		e.line(2, "%s", words)
	}
}

// device says in words where a port is found.
func device(a sensors.Address) string {
	switch {
	case a.Path != "":
		return a.Path
	case a.ByID != "":
		return "by-id name " + a.ByID
	}
	words := "USB serial number " + a.USBSerial
	if a.Interface >= 0 {
		words += fmt.Sprintf(", interface %d", a.Interface)
	}
	return words
}

func (e *explainer) channel(ch sensors.Channel) string {
	i := slices.IndexFunc(e.b.Setup.Channels, func(c rules.Channel) bool { return c.Name == ch.Name })
	rule := e.b.Setup.Channels[i]
	words := ch.Name
	if ch.Label != "" && ch.Label != ch.Name {
		words += fmt.Sprintf(" (%s)", ch.Label)
	}
	switch ch.Quantity {
	case sensors.Contact:
		words += ": contact"
		if rule.Airflow {
			words += " that proves the airflow when closed"
		}
	case sensors.GasLevel:
		words += fmt.Sprintf(": %s, %s to %s ppm, above that over range", ch.Gas.Title(), figure(ch.Low), figure(ch.High))
		if ch.WarmUp > 0 {
			words += fmt.Sprintf("; not trusted for %s after power-up", timeWords(ch.WarmUp))
		}
	default:
		words += fmt.Sprintf(": %s, believed from %s to %s", ch.Quantity, show(e.b.Units, ch.Low, ch.Quantity), show(e.b.Units, ch.High, ch.Quantity))
	}
	return words + fmt.Sprintf("; lost after %s of silence", timeWords(orDefault(rule.SilentAfter)))
}

func (e *explainer) baths() {
	if len(e.b.Setup.Baths) == 0 {
		return
	}
	e.line(0, "")
	e.line(0, "Baths")
	for _, b := range e.b.Setup.Baths {
		words := ""
		if b.HasRange() {
			words = fmt.Sprintf(", worked at %s to %s", e.b.Units.Temperature(b.RangeLow), e.b.Units.Temperature(b.RangeHigh))
		}
		e.line(1, "%s: %s%s, measured by %s", b.Title(), b.Kind, words, strings.Join(b.Probes, " and "))
		e.alarms(func(c rules.Condition) bool { return c.Bath == b.Name })
	}
}

func (e *explainer) gases() {
	first := true
	for _, ch := range e.b.Setup.Channels {
		if ch.Quantity != sensors.GasLevel {
			continue
		}
		if first {
			e.line(0, "")
			e.line(0, "Gases, measured where the fume head hangs, not where anybody breathes")
		}
		first = false
		e.line(1, "%s: %s", ch.Title(), ch.Gas.Title())
		e.alarms(func(c rules.Condition) bool { return c.Channel == ch.Name && c.Kind.TakesSetpoint() })
	}
}

// rest lists the rules that neither baths nor gases have shown: the file's own
// in full, the built-in ones by name.
func (e *explainer) rest() {
	e.line(0, "")
	e.line(0, "Besides")
	names := map[rules.Priority][]string{}
	for _, r := range e.rules {
		c := r.Any[0]
		gas := c.Kind.TakesSetpoint() && e.quantity(c) == sensors.GasLevel
		switch {
		case c.Bath != "" || gas:
		case slices.ContainsFunc(e.b.Setup.Rules, func(own rules.Rule) bool { return own.Name == r.Name }):
			e.line(1, "%s", e.alarm(r))
		default:
			names[r.Priority] = append(names[r.Priority], r.Name)
		}
	}
	for _, p := range slices.Backward(rules.Priorities) {
		if len(names[p]) > 0 {
			e.line(1, "%s: %s", p, strings.Join(names[p], ", "))
		}
	}
}

func (e *explainer) quantity(c rules.Condition) sensors.Quantity {
	if c.Bath != "" {
		return sensors.Temperature
	}
	for _, ch := range e.b.Setup.Channels {
		if ch.Name == c.Channel {
			return ch.Quantity
		}
	}
	return sensors.QuantityUnspecified
}

// alarms lists the rules whose first condition is wanted, the most urgent first.
func (e *explainer) alarms(wanted func(rules.Condition) bool) {
	var list []rules.Rule
	for _, r := range e.rules {
		if wanted(r.Any[0]) {
			list = append(list, r)
		}
	}
	slices.SortStableFunc(list, func(a, b rules.Rule) int { return int(b.Priority) - int(a.Priority) })
	for _, r := range list {
		e.line(2, "%s", e.alarm(r))
	}
}

// alarm says when a rule calls, and whose figure that is.
func (e *explainer) alarm(r rules.Rule) string {
	var when []string
	for _, c := range r.Any {
		when = append(when, e.condition(c))
	}
	words := fmt.Sprintf("%s %s", r.Priority, strings.Join(when, ", or "))
	if r.OnDelay > 0 {
		words += fmt.Sprintf("; after %s", timeWords(r.OnDelay))
	}
	if r.Latching {
		words += ", latching"
	}
	if r.Whose != "" {
		words += " - " + r.Whose
	}
	return words + " [" + r.Name + "]"
}

func (e *explainer) condition(c rules.Condition) string {
	q := e.quantity(c)
	at := figureOf(e.b.Units, c, q)
	switch c.Kind {
	case rules.Above:
		return "at " + at
	case rules.Below:
		return "at or below " + at
	case rules.Outside:
		low := c
		low.Setpoint = c.SetpointLow
		return "outside " + figureOf(e.b.Units, low, q) + " to " + at
	case rules.Rising, rules.Falling:
		return fmt.Sprintf("when %s by %s over %s", c.Kind, at, timeWords(c.Window))
	case rules.NearBoiling:
		return fmt.Sprintf("at %s, %s short of boiling", e.b.Units.Temperature(e.b.Site.Boiling-sensors.Celsius(c.Setpoint)), at)
	case rules.ReachesWithin:
		return fmt.Sprintf("when forecast to reach %s within %s", at, timeWords(c.Window))
	case rules.BoiledDry:
		return fmt.Sprintf("at %s, %s above boiling", e.b.Units.Temperature(e.b.Site.Boiling+sensors.Celsius(c.Setpoint)), at)
	case rules.Stuck:
		return fmt.Sprintf("when it moves less than %s in %s", at, timeWords(c.Window))
	case rules.AboveWhileHot:
		return "at " + at + " while a bath is hot"
	default:
		return "when " + c.Channel + c.Port + " is " + strings.ReplaceAll(c.Kind.String(), "-", " ")
	}
}
