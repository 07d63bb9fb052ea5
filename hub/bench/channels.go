package bench

import (
	"fmt"
	"math"
	"slices"
	"time"

	"go.yaml.in/yaml/v3"

	"simmerline/rules"
	"simmerline/sensors"
)

// Bounds on how long a channel may be unheard before it counts as lost.
const (
	shortestSilence = 2 * time.Second
	longestSilence  = 10 * time.Minute
	defaultSilence  = 10 * time.Second // the engine's, for the checks here
)

// channel is a channel with the places that later checks point at.
type channel struct {
	sensors.Channel
	rule    rules.Channel
	at      place // its name
	rangeAt place
	// step is the least difference the device can send, in the quantity's unit;
	// 0 where it is not known.
	step float64
}

// quantities and gases as the file writes them, without the zero values.
var (
	quantityWords = []string{
		sensors.Temperature.String(), sensors.GasLevel.String(), sensors.Contact.String(), sensors.Pressure.String(),
	}
	gasWords = []string{
		sensors.HydrogenSulfide.String(), sensors.SulfurDioxide.String(), sensors.Ammonia.String(),
		sensors.CarbonMonoxide.String(), sensors.OtherGas.String(),
	}
)

func (d *draft) readChannel(n *yaml.Node, number int, p *port, protocolKnown bool, silentAfter time.Duration) {
	taken := map[string]place{}
	for _, other := range d.allChannels() {
		taken[other.Name] = other.at
	}
	s, name, ok := d.named(n, "channel", number, taken)
	if !ok {
		return
	}
	ch := &channel{at: s.placeOf("name"), rangeAt: s.placeOf("range")}
	ch.Name, ch.Label = name, s.text("label", longestLabel)
	if p.config.Modbus != nil {
		s.addressed()
	}
	s.need("quantity", "and one of "+listed(quantityWords))
	if i, ok := s.choice("quantity", quantityWords...); ok {
		ch.Quantity = sensors.Quantity(i + 1)
		ch.readQuantity(s)
	} else {
		d.nameless = true // what refers to it can't be judged
		s.known = append(s.known, "unit", "scale", "offset", "range", "gas", "noise", "warm_up", "digital_probe", "role", "inverted")
	}
	switch {
	case !protocolKnown:
		s.known = append(s.known, slices.Concat(modbusChannelKeys, linesChannelKeys)...)
	case p.config.Modbus != nil:
		d.readModbusChannel(s, p, ch)
		s.misplaced("is for a channel of a lines port", "say the register instead", linesChannelKeys...)
	default:
		d.readLineChannel(s, p, ch)
		s.misplaced("is for a channel of a modbus port", "say with from or column where the line holds it", modbusChannelKeys...)
	}
	asked := time.Duration(0)
	if p.config.Modbus != nil {
		asked = p.config.Modbus.Every + p.config.Modbus.Timeout
	}
	effective := s.duration("silent_after", shortestSilence, longestSilence, silentAfter)
	if limit := max(effective, 0); asked > 0 && asked >= orDefault(limit) {
		d.c.fault(s.placeOf("silent_after"), "ask more often, or write a longer silent_after",
			"%s counts as lost after %s, but is asked every %s with %s to answer", s.what, timeWords(orDefault(limit)),
			timeWords(p.config.Modbus.Every), timeWords(p.config.Modbus.Timeout))
	}
	ch.rule = rules.Channel{
		Name: ch.Name, Label: ch.Label, Port: p.config.Name, Quantity: ch.Quantity, Gas: ch.Gas,
		SilentAfter: effective, Noise: ch.rule.Noise, Airflow: ch.rule.Airflow,
	}
	p.channels = append(p.channels, ch)
	s.done()
}

func orDefault(silentAfter time.Duration) time.Duration {
	if silentAfter == 0 {
		return defaultSilence
	}
	return silentAfter
}

// readQuantity reads what depends on the quantity: gas, unit, scale, offset,
// range, and the habits of the sensor.
func (ch *channel) readQuantity(s *section) {
	if ch.Quantity == sensors.Contact {
		ch.readContact(s)
		return
	}
	value, _, _ := of(ch.Quantity)
	base := ch.readScale(s, value)
	low, high, ok := s.span("range", value)
	switch {
	case ok:
		ch.Low, ch.High = low, high
		ch.believable(s)
	case s.has("range"):
	case ch.Quantity == sensors.Temperature:
		ch.Low, ch.High = -20, 150
	case ch.Quantity == sensors.Pressure:
		ch.Low, ch.High = 50, 115
	default:
		s.missing("range", "-5..100 ppm, up to the most that the cell can measure")
	}
	digital, _ := s.flagFor(ch.Quantity == sensors.Temperature, "digital_probe", "a temperature")
	ch.DigitalProbe = digital
	if digital && base.word == "F" {
		s.trouble("digital_probe", &problem{"its power-on value is known in °C only", "have the device send °C, and write unit: C"})
	}
	if ch.Quantity == sensors.GasLevel {
		ch.readGas(s)
	} else {
		s.misplaced("is for a gas", "take it out", "gas", "noise", "warm_up")
	}
	s.misplaced("is for a contact", "take it out", "role", "inverted")
}

// readScale reads unit, scale and offset, and turns them into a scale and
// offset to the quantity's own unit.
func (ch *channel) readScale(s *section, d dimension) unit {
	base := d.units[0]
	if text, ok := s.scalar("unit"); ok {
		if u, known := d.find(text); known {
			base = u
		} else {
			s.trouble("unit", &problem{quote(text) + " is no unit of " + d.is, "write " + listed(d.words())})
		}
	}
	scale, offset := 1.0, 0.0
	if v, ok := s.number("scale"); ok {
		if scale = v; v == 0 {
			s.trouble("scale", &problem{"a scale of 0 makes every reading the same", "write what a step of the device is worth, as 0.1"})
			scale = 1
		}
	}
	if v, ok := s.number("offset"); ok {
		offset = v
	}
	ch.Scale, ch.Offset = scale*base.scale, offset*base.scale+base.offset
	return base
}

// believable refuses a range that no sensor of the quantity has.
func (ch *channel) believable(s *section) {
	least, most := -273.15, 2000.0
	switch ch.Quantity {
	case sensors.GasLevel:
		least, most = -1000, 1e6
		if ch.High <= 0 {
			s.trouble("range", &problem{"it ends below any gas level", "end it at the most that the cell can measure, as -5..100 ppm"})
		}
	case sensors.Pressure:
		least, most = 0, 200
	}
	if ch.Low < least || ch.High > most {
		s.trouble("range", &problem{fmt.Sprintf("%s is beyond what can be", quote(s.value["range"].Value)),
			fmt.Sprintf("keep it within %s..%s %s", figure(least), figure(most), ch.Quantity.Unit())})
	}
}

// flagFor reads a flag that only some channels may have.
func (s *section) flagFor(allowed bool, key, what string) (value, ok bool) {
	if !allowed {
		s.misplaced("is for "+what, "take it out", key)
		return false, false
	}
	return s.flag(key)
}

func (ch *channel) readGas(s *section) {
	s.need("gas", "and one of "+listed(gasWords))
	if i, ok := s.choice("gas", gasWords...); ok {
		ch.Gas = sensors.Gas(i + 1)
	} else {
		ch.Gas = sensors.OtherGas // a stand-in, so that the rest can be judged
	}
	if noise, ok := s.quantity("noise", ppm); ok {
		if noise < 0 || (ch.High > 0 && noise > ch.High) {
			s.trouble("noise", &problem{figure(noise) + " ppm can't be the noise of this cell", "write it from the cell's data sheet, as 0.1 ppm"})
		}
		ch.rule.Noise = sensors.PPM(math.Max(noise, 0))
	}
	ch.WarmUp = s.duration("warm_up", 0, 72*time.Hour, 0)
}

// readContact reads a contact: closed is any number but 0, or with inverted the
// other way round.
func (ch *channel) readContact(s *section) {
	if i, ok := s.choice("role", "airflow"); ok {
		ch.rule.Airflow = i == 0
	}
	if inverted, _ := s.flag("inverted"); inverted {
		ch.Scale, ch.Offset = -1, 1
	}
	s.misplaced("is not for a contact, which is only open or closed", "take it out",
		"unit", "scale", "offset", "range", "gas", "noise", "warm_up", "digital_probe")
}

// allChannels lists the channels of every port in the order of the file.
func (d *draft) allChannels() []*channel {
	var all []*channel
	for _, p := range d.ports {
		all = append(all, p.channels...)
	}
	return all
}

// channel gives the channel of a name, nil where there is none.
func (d *draft) channel(name string) *channel {
	for _, ch := range d.allChannels() {
		if ch.Name == name && name != "" {
			return ch
		}
	}
	return nil
}

// ruleChannels lists what the engine is told of the channels: each name once.
func (d *draft) ruleChannels() []rules.Channel {
	var list []rules.Channel
	for _, ch := range d.allChannels() {
		if d.channel(ch.Name) == ch && ch.Quantity != sensors.QuantityUnspecified {
			list = append(list, ch.rule)
		}
	}
	return list
}
