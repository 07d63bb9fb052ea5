package bench

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"simmerline/rules"
	"simmerline/sensors"
)

// cautions notes what is accepted, but that its owner should know. It runs on a
// bench without faults.
func (d *draft) cautions() {
	d.siteCautions()
	if d.sound == SoundNone {
		d.c.caution(d.soundAt, "this hub makes no sound: an alarm is heard only where a screen has its sound on")
	}
	for _, p := range d.ports {
		d.wireCautions(p)
		for _, ch := range p.channels {
			d.channelCautions(ch)
		}
	}
	d.benchCautions()
	for _, b := range d.baths {
		d.bathCautions(b)
	}
	d.weakened()
}

func (d *draft) siteCautions() {
	if strings.HasPrefix(d.site.From, "station") && !d.hasAltitude {
		d.c.caution(d.siteAt, "a station pressure without its altitude can't be checked: a weather report's figure is reduced to sea level, and would put every line too high; add the altitude")
	}
}

func (d *draft) wireCautions(p *port) {
	if p.unprotected() {
		d.c.caution(p.at, "port %s is an unprotected wire: nothing makes sure that a flipped bit is noticed; where the device can end its lines in a check, write check: required", p.config.Name)
	}
	path := p.config.Address.Path
	if path != "" && !strings.HasPrefix(path, "/dev/serial/by-") {
		d.c.caution(p.deviceAt, "port %s: %s may name another device after the next plugging in; usb_serial or by_id stays with the device (simmerline ports lists them)", p.config.Name, path)
	}
}

func (d *draft) channelCautions(ch *channel) {
	const long = time.Minute
	if (ch.Quantity == sensors.GasLevel || ch.rule.Airflow) && ch.rule.SilentAfter > long {
		d.c.caution(ch.at, "channel %s is called lost only after %s of silence", ch.Name, timeWords(ch.rule.SilentAfter))
	}
	switch ch.Quantity {
	case sensors.GasLevel:
		d.gasCautions(ch)
	case sensors.Temperature:
		if !d.looksAt(ch.Name) && !slices.ContainsFunc(d.baths, func(b *bath) bool { return slices.Contains(b.Probes, ch.Name) }) {
			d.c.caution(ch.at, "channel %s is in no bath and no rule: only its loss raises an alarm", ch.Name)
		}
	case sensors.Contact, sensors.Pressure:
		if !ch.rule.Airflow && !d.looksAt(ch.Name) {
			d.c.caution(ch.at, "channel %s has no rule: only its loss raises an alarm", ch.Name)
		}
	}
}

// looksAt says whether a rule of the file looks at a channel.
func (d *draft) looksAt(name string) bool {
	return slices.ContainsFunc(d.setup.Rules, func(r rules.Rule) bool {
		return slices.ContainsFunc(r.Any, func(c rules.Condition) bool { return c.Channel == name })
	})
}

// gasCautions says where a cell can't see a limit, and what is not known of it.
func (d *draft) gasCautions(ch *channel) {
	quiet := ch.rule
	quiet.Noise = 0
	limits := rules.Defaults(rules.Setup{Channels: []rules.Channel{quiet}})
	watched := false
	for _, limit := range limits {
		if limit.Any[0].Kind != rules.Above {
			continue
		}
		watched = true
		at := slices.IndexFunc(d.all, func(r rules.Rule) bool { return r.Name == limit.Name })
		now, usual := d.all[at].Any[0].Setpoint, limit.Any[0].Setpoint
		if least := 3 * float64(ch.rule.Noise); least > usual {
			d.c.caution(ch.at, "channel %s: with a noise of %s ppm this cell can't see the %s limit of %s ppm, %s; the %s is set at %s ppm",
				ch.Name, figure(float64(ch.rule.Noise)), limit.Priority, figure(usual), limit.Whose, limit.Priority, figure(now))
		}
		if now >= ch.High {
			d.c.caution(ch.rangeAt, "channel %s: this cell ends at %s ppm, short of the %s setpoint of %s ppm; over range counts as danger",
				ch.Name, figure(ch.High), limit.Priority, figure(now))
		}
		if ch.step > now {
			d.c.caution(ch.at, "channel %s: the device sends steps of %s ppm, and the %s setpoint is %s ppm", ch.Name, figure(ch.step), limit.Priority, figure(now))
		}
	}
	if !watched && !d.looksAt(ch.Name) {
		d.c.caution(ch.at, "channel %s: no built-in rule knows the limits of this gas; give it rules of your own", ch.Name)
	}
	if ch.rule.Noise == 0 {
		d.c.caution(ch.at, "channel %s: its noise is not stated, so nobody can tell whether the cell sees the limits; write noise: from its data sheet", ch.Name)
	}
	if ch.WarmUp == 0 {
		d.c.caution(ch.at, "channel %s: no warm_up is stated, so the cell is trusted from its first reading", ch.Name)
	}
}

// benchCautions says what a bench with these baths would be expected to have.
func (d *draft) benchCautions() {
	kinds := map[rules.BathKind]*bath{}
	for _, b := range d.baths {
		kinds[b.Kind] = b
	}
	gases := map[sensors.Gas]bool{}
	anyGas, airflow := false, false
	for _, ch := range d.allChannels() {
		gases[ch.Gas] = gases[ch.Gas] || ch.Quantity == sensors.GasLevel
		anyGas = anyGas || ch.Quantity == sensors.GasLevel
		airflow = airflow || ch.rule.Airflow
	}
	if len(d.baths) == 0 {
		d.c.caution(d.at, "the bench has no baths: nothing is watched for boiling, and fume alarms that wait for a hot bath never come")
	}
	sulfide := kinds[rules.BathSulfide]
	if sulfide == nil {
		return
	}
	switch {
	case !anyGas:
		d.c.caution(sulfide.at, "there is no fume head: bath %s gives off hydrogen sulfide, and nothing here would tell of it; the nose is no warning", sulfide.Name)
	case !gases[sensors.HydrogenSulfide]:
		d.c.caution(sulfide.at, "no cell here answers to hydrogen sulfide, which bath %s gives off; the nose is no warning", sulfide.Name)
	}
	if !airflow {
		d.c.caution(sulfide.at, "no contact proves the airflow: nothing here would tell that the hood over bath %s has stopped", sulfide.Name)
	}
	if acid := kinds[rules.BathPickle]; acid != nil {
		d.c.caution(acid.at, "acid next to sulfide: a splash of %s in %s frees hydrogen sulfide in bulk; keep them apart, and rinse between them", acid.Name, sulfide.Name)
	}
}

func (d *draft) bathCautions(b *bath) {
	for _, r := range d.all {
		for _, cond := range r.Any {
			if cond.Bath == b.Name && cond.Kind == rules.Above && r.Priority == rules.Warning && b.HasRange() && float64(b.RangeHigh) >= cond.Setpoint {
				d.c.caution(b.rangeAt, "bath %s: its working range reaches the warning at %s (%s), which will come in normal work",
					b.Name, d.show(cond.Setpoint, sensors.Temperature), r.Name)
			}
		}
	}
	for _, name := range b.Probes {
		if ch := d.channel(name); ch.High < float64(d.site.Boiling)+5 {
			d.c.caution(ch.rangeAt, "channel %s: its range ends at %s, so a bath boiled dry would show only as a lost probe",
				name, d.show(ch.High, sensors.Temperature))
		}
	}
}

// weakened says where the file makes a built-in rule call later, or more softly.
func (d *draft) weakened() {
	for _, before := range rules.Defaults(d.setup) {
		at := slices.IndexFunc(d.setup.Rules, func(r rules.Rule) bool { return r.Name == before.Name })
		if at < 0 {
			continue
		}
		now := d.setup.Rules[at]
		var how []string
		if w, b := now.Any[0], before.Any[0]; w.Kind.TakesSetpoint() && w.Setpoint > b.Setpoint {
			q := d.quantityOf(b)
			how = append(how, fmt.Sprintf("setpoint %s, built in %s", d.figureOf(w, q), d.figureOf(b, q)))
		}
		if now.OnDelay > before.OnDelay {
			how = append(how, fmt.Sprintf("on_delay %s, built in %s", timeWords(now.OnDelay), timeWords(before.OnDelay)))
		}
		if before.Class.KeepsAway() && now.OffDelay < before.OffDelay {
			how = append(how, fmt.Sprintf("off_delay %s, built in %s", timeWords(now.OffDelay), timeWords(before.OffDelay)))
		}
		if now.Priority < before.Priority {
			how = append(how, fmt.Sprintf("priority %s, built in %s", now.Priority, before.Priority))
		}
		if before.Latching && !now.Latching {
			how = append(how, "not latching, built in latching")
		}
		if now.WhileInUse && !before.WhileInUse {
			how = append(how, "only while in use, built in always")
		}
		if len(how) > 0 {
			d.c.caution(d.ruleAt[now.Name], "rule %s protects less than the built-in one: %s", now.Name, strings.Join(how, "; "))
		}
	}
}

// figureOf prints the setpoint of a condition with its unit.
func (d *draft) figureOf(c rules.Condition, q sensors.Quantity) string {
	return figureOf(d.units, c, q)
}

func figureOf(units Units, c rules.Condition, q sensors.Quantity) string {
	if setpoint, _ := dimensions(c.Kind, q); setpoint.is != temperature.is {
		return figure(c.Setpoint) + " " + setpoint.units[0].word
	}
	return show(units, c.Setpoint, q)
}
