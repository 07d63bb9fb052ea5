package bench

import (
	"fmt"
	"slices"

	"simmerline/rules"
	"simmerline/sensors"
)

// follow keeps the warning of a bath below its danger: where the file moves the
// danger setpoint, what the built-in warning says of it moves along, unless the
// file sets the warning itself.
func (d *draft) follow(builtIn, own []rules.Rule) []rules.Rule {
	setpointSet := func(name string) bool { _, set := d.setpointAt[name]; return set }
	isBuiltIn := func(name string) bool {
		return slices.ContainsFunc(builtIn, func(r rules.Rule) bool { return r.Name == name })
	}
	for _, before := range builtIn {
		reach := slices.IndexFunc(before.Any, func(c rules.Condition) bool { return c.Kind == rules.ReachesWithin })
		if reach < 0 {
			continue
		}
		line := before.Any[reach]
		moved := slices.IndexFunc(own, func(r rules.Rule) bool {
			return isBuiltIn(r.Name) && len(r.Any) == 1 && r.Any[0].Kind == rules.Above && r.Any[0].Bath == line.Bath && r.Any[0].Setpoint != line.Setpoint
		})
		if moved < 0 {
			continue
		}
		by := own[moved].Any[0].Setpoint - line.Setpoint
		at := slices.IndexFunc(own, func(r rules.Rule) bool { return r.Name == before.Name })
		if at < 0 {
			at = len(own)
			before.Any = slices.Clone(before.Any)
			own = append(own, before)
		}
		for i, cond := range own[at].Any {
			if cond.Kind == rules.ReachesWithin || !setpointSet(before.Name) {
				own[at].Any[i].Setpoint += by
			}
		}
		if !setpointSet(before.Name) {
			own[at].Whose = fmt.Sprintf("%s K below the line of %s, or forecast to reach it", figure(line.Setpoint-before.Any[0].Setpoint+by),
				sensors.Celsius(own[moved].Any[0].Setpoint))
		}
	}
	return own
}

// merged gives the rules that would be in force: the built-in ones, with the
// file's changes, then its own.
func merged(setup rules.Setup) []rules.Rule {
	list := rules.Defaults(setup)
	for _, r := range setup.Rules {
		if at := slices.IndexFunc(list, func(o rules.Rule) bool { return o.Name == r.Name }); at >= 0 {
			list[at] = r
		} else {
			list = append(list, r)
		}
	}
	return list
}

// cross checks what one part of the file asks of another.
func (d *draft) cross() {
	d.sameDevice()
	d.sameAlarm()
	d.all = merged(d.setup)
	for _, r := range d.all {
		for _, cond := range r.Any {
			d.reachable(r, cond)
		}
	}
	d.order()
	if !d.siteBad {
		for _, b := range d.baths {
			d.bathLines(b)
		}
	}
	if len(d.c.faults) > 0 {
		return
	}
	// The engine's own check comes last: what it refuses can't be run.
	if _, err := rules.New(d.setup, 0); err != nil {
		d.c.fault(d.at, "correct it, or take the rule out", "%s", quote(err.Error()))
	}
}

// sameDevice refuses two ports on one device.
func (d *draft) sameDevice() {
	for i, p := range d.ports {
		for _, other := range d.ports[:i] {
			if same(p.config.Address, other.config.Address) {
				under := "one port"
				if p.config.Modbus != nil && other.config.Modbus != nil {
					under = "one port, those of a second device on the wire with its modbus_unit"
				}
				d.c.fault(p.deviceAt, "one device can be opened once; put its channels under "+under+", or tell the two apart by interface",
					"port %s: its device is that of port %s already", p.config.Name, other.config.Name)
				break
			}
		}
	}
}

// same says whether two addresses may mean the same device.
func same(a, b sensors.Address) bool {
	either := func(x, y string) bool { return x == "" || y == "" || x == y }
	switch {
	case a.Path != "" || b.Path != "":
		return a.Path == b.Path
	case a.ByID != "" || b.ByID != "":
		return a.ByID == b.ByID
	default:
		return a.USBSerial != "" && a.USBSerial == b.USBSerial && either(a.VendorID, b.VendorID) && either(a.ProductID, b.ProductID) &&
			(a.Interface == b.Interface || a.Interface < 0 || b.Interface < 0)
	}
}

// sameAlarm refuses names from which two built-in rules would get one name.
func (d *draft) sameAlarm() {
	seen := map[string]int{}
	for _, r := range rules.Defaults(d.setup) {
		if seen[r.Name] == 1 {
			d.c.fault(d.at, "give the channel, port or bath that it is named after another name", "two built-in rules of this bench would both be called %s", r.Name)
		}
		seen[r.Name]++
	}
}

// reachable refuses a setpoint that no credible reading reaches: the channel
// would turn bad first.
func (d *draft) reachable(r rules.Rule, cond rules.Condition) {
	switch cond.Kind {
	case rules.Above, rules.Below, rules.Outside, rules.ReachesWithin, rules.AboveWhileHot:
	default:
		return
	}
	names := []string{cond.Channel}
	if b := d.bath(cond.Bath); b != nil {
		names = b.Probes
	}
	for _, name := range names {
		ch := d.channel(name)
		if ch == nil || ch.High <= ch.Low {
			continue
		}
		where, inFile := d.setpointAt[r.Name]
		if !inFile {
			where = ch.rangeAt
		}
		low, high := d.show(cond.Setpoint, ch.Quantity), fmt.Sprintf("%s..%s %s", figure(ch.Low), figure(ch.High), ch.Quantity.Unit())
		switch gas := ch.Quantity == sensors.GasLevel; {
		case cond.Setpoint >= ch.High && gas && !inFile:
			// A cell that is over range counts as danger: said as a caution.
		case cond.Setpoint >= ch.High, cond.Setpoint <= ch.Low && cond.Kind != rules.Outside, cond.Kind == rules.Outside && cond.SetpointLow <= ch.Low:
			d.c.fault(where, "correct the setpoint, or give the channel the range that its sensor has",
				"rule %s: %s is at the edge of the range of channel %s, %s, or beyond: no reading would reach it", r.Name, low, name, high)
			return
		case gas && inFile && cond.Setpoint < 3*float64(ch.rule.Noise):
			d.c.fault(where, fmt.Sprintf("write at least %s ppm", figure(3*float64(ch.rule.Noise))),
				"rule %s: %s lies below three times the noise of channel %s", r.Name, low, name)
			return
		}
		d.clears(r, cond, ch, where, inFile)
	}
}

// clears refuses a deadband so wide that the alarm could never clear.
func (d *draft) clears(r rules.Rule, cond rules.Condition, ch *channel, where place, inFile bool) {
	least := ch.Low
	if ch.Quantity == sensors.GasLevel {
		least = 0
	}
	never := false
	switch cond.Kind {
	case rules.Above, rules.ReachesWithin, rules.AboveWhileHot:
		never = cond.Setpoint-r.Deadband <= least
	case rules.Below:
		never = cond.Setpoint+r.Deadband >= ch.High
	case rules.Outside:
		never = 2*r.Deadband >= cond.Setpoint-cond.SetpointLow
	}
	if never && inFile && r.Deadband > 0 {
		_, deadband := dimensions(cond.Kind, ch.Quantity)
		d.c.fault(where, "write a smaller deadband", "rule %s: with a deadband of %s %s it could never clear", r.Name, figure(r.Deadband), deadband.units[0].word)
	}
}

// show prints a figure with its unit, in the file's units of display.
func (d *draft) show(v float64, q sensors.Quantity) string { return show(d.units, v, q) }

func show(units Units, v float64, q sensors.Quantity) string {
	switch q {
	case sensors.Temperature:
		return units.Temperature(sensors.Celsius(v))
	case sensors.GasLevel:
		return figure(v) + " ppm"
	default:
		return figure(v) + " " + q.Unit()
	}
}

// order refuses a warning beyond the danger for the same bath or channel: it
// would never come first.
func (d *draft) order() {
	for _, warning := range d.all {
		for _, danger := range d.all {
			if warning.Priority != rules.Warning || danger.Priority != rules.Danger {
				continue
			}
			for _, w := range warning.Any {
				for _, g := range danger.Any {
					d.inOrder(warning.Name, danger.Name, w, g)
				}
			}
		}
	}
}

func (d *draft) inOrder(warning, danger string, w, g rules.Condition) {
	if w.Kind != g.Kind || w.Bath != g.Bath || w.Channel != g.Channel {
		return
	}
	wrong := (w.Kind == rules.Above && w.Setpoint > g.Setpoint) || (w.Kind == rules.Below && w.Setpoint < g.Setpoint)
	where, inFile := d.setpointAt[warning]
	if there, too := d.setpointAt[danger]; !inFile {
		where, inFile = there, too
	}
	if !wrong || !inFile { // Two built-in ones can only differ by a cell's noise: said as a caution.
		return
	}
	q := d.quantityOf(w)
	d.c.fault(where, "set the warning so that it comes before the danger",
		"the warning %s at %s lies beyond the danger %s at %s", warning, d.show(w.Setpoint, q), danger, d.show(g.Setpoint, q))
}

// bathLines checks a bath's working range and danger against its line and the
// local boiling point.
func (d *draft) bathLines(b *bath) {
	for _, r := range d.all {
		for _, cond := range r.Any {
			if cond.Kind != rules.Above || cond.Bath != b.Name || r.Priority < rules.Warning {
				continue
			}
			line := sensors.Celsius(cond.Setpoint)
			if where, inFile := d.setpointAt[r.Name]; inFile && line >= d.site.Boiling {
				d.c.fault(where, fmt.Sprintf("stay short of boiling; built in is 3 K short of it, %s", d.units.Temperature(d.site.Boiling-3)),
					"rule %s: %s is no lower than the local boiling point, %s", r.Name, d.units.Temperature(line), d.units.Temperature(d.site.Boiling))
			}
			if r.Priority == rules.Danger && b.HasRange() && b.RangeHigh >= line {
				d.c.fault(b.rangeAt, "end the working range below it", "bath %s: its working range reaches the danger setpoint, %s (%s)",
					b.Name, d.units.Temperature(line), r.Name)
			}
		}
	}
	if b.HasRange() && b.RangeHigh >= d.site.Boiling {
		d.c.fault(b.rangeAt, "end the working range below it", "bath %s: its working range reaches the local boiling point, %s",
			b.Name, d.units.Temperature(d.site.Boiling))
	}
}
