package bench

import (
	"go.yaml.in/yaml/v3"

	"simmerline/rules"
	"simmerline/sensors"
)

// bath is a bath with the places that later checks point at.
type bath struct {
	rules.Bath
	at      place // its name
	rangeAt place
}

// kindWords are the kinds of bath as the file writes them, by rules.BathKind.
var kindWords = []string{
	rules.BathOther.String(), rules.BathSulfide.String(), rules.BathSoda.String(),
	rules.BathRinse.String(), rules.BathPickle.String(),
}

func (d *draft) readBath(n *yaml.Node, number int) {
	taken := map[string]place{}
	for _, b := range d.baths {
		taken[b.Name] = b.at
	}
	s, name, ok := d.named(n, "bath", number, taken)
	if !ok {
		return
	}
	b := &bath{at: s.placeOf("name"), rangeAt: s.placeOf("range")}
	b.Name, b.Label = name, s.text("label", longestLabel)
	s.need("kind", "and one of "+listed(kindWords))
	if i, ok := s.choice("kind", kindWords...); ok {
		b.Kind = rules.BathKind(i)
	}
	low, high, ok := s.span("range", temperature)
	if b.RangeLow, b.RangeHigh = sensors.Celsius(low), sensors.Celsius(high); ok && low < -10 {
		s.trouble("range", &problem{"it begins below any bath", "write the temperatures at which you work, as 55..75 C"})
	}
	for _, probe := range s.list("probes", "probes: [hot]") {
		d.readProbe(s, b, probe)
	}
	if s.need("probes", "and the channels that measure it, as [hot]"); s.emptyList("probes") {
		s.trouble("probes", &problem{"there are none, so that nothing would watch the bath", "name a temperature channel, as probes: [hot]"})
	}
	s.done()
	d.baths = append(d.baths, b)
}

// readProbe reads one name of a bath's list of probes.
func (d *draft) readProbe(s *section, b *bath, n *yaml.Node) {
	if n.Kind != yaml.ScalarNode || isEmpty(n) {
		if n.Kind != yaml.AliasNode {
			d.c.fault(at(n), "write the name of a channel", "%s: a probe must be the name of a channel, not %s", s.what, kindWord(n))
		}
		return
	}
	name := n.Value
	ch := d.channel(name)
	switch {
	case ch == nil && d.nameless: // It may be the one without a usable name.
		return
	case ch == nil:
		d.c.fault(at(n), d.didYouMean(name, sensors.Temperature), "%s: there is no channel %s", s.what, quote(name))
		return
	case ch.Quantity != sensors.Temperature:
		if ch.Quantity != sensors.QuantityUnspecified {
			d.c.fault(at(n), d.didYouMean(name, sensors.Temperature), "%s: channel %s measures a %s, not the temperature of a bath", s.what, name, ch.Quantity)
		}
		return
	}
	for _, other := range append(d.baths, b) {
		for _, p := range other.Probes {
			if p == name {
				d.c.fault(at(n), "a probe hangs in one bath; name it there only", "%s: probe %s is in bath %s already", s.what, name, other.Name)
				return
			}
		}
	}
	b.Probes = append(b.Probes, name)
}

// didYouMean is the mend for a channel's name that is none, or one of another
// quantity.
func (d *draft) didYouMean(name string, q sensors.Quantity) string {
	var names []string
	for _, ch := range d.allChannels() {
		if ch.Name != "" && ch.Name != name && (q == sensors.QuantityUnspecified || ch.Quantity == q) {
			names = append(names, ch.Name)
		}
	}
	if near := nearest(name, names); near != "" {
		return "did you mean " + near + "?"
	}
	if len(names) == 0 {
		return "add such a channel under ports"
	}
	return "name one of " + listed(names[:min(len(names), 12)])
}

// ruleBaths lists what the engine is told of the baths: each name once.
func (d *draft) ruleBaths() []rules.Bath {
	var list []rules.Bath
	for _, b := range d.baths {
		if d.bath(b.Name) == b {
			list = append(list, b.Bath)
		}
	}
	return list
}

func (d *draft) bath(name string) *bath {
	for _, b := range d.baths {
		if b.Name == name && name != "" {
			return b
		}
	}
	return nil
}
