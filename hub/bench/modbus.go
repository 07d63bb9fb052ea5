package bench

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"simmerline/sensors"
)

// readModbus reads which device is asked on a port, unless a channel names another,
// and how.
func (d *draft) readModbus(s *section) *sensors.ModbusConfig {
	m := &sensors.ModbusConfig{}
	s.need("unit", "and the device's Modbus address, 1 to 247")
	unit, _ := s.integer("unit", 1, 247)
	m.Unit = byte(unit)
	m.Every = s.duration("every", 100*time.Millisecond, 5*time.Minute, time.Second)
	m.Timeout = s.duration("timeout", 50*time.Millisecond, 10*time.Second, time.Second)
	if i, ok := s.choice("echo", "auto", "off", "on"); ok {
		m.Echo = sensors.EchoMode(i)
	}
	return m
}

// readModbusChannel reads which registers hold a channel. Functions 1 and 2
// give bits, 3 and 4 give registers (Modbus Application Protocol V1.1b3, 6.1-6.4).
func (d *draft) readModbusChannel(s *section, p *port, ch *channel) {
	m := sensors.ModbusChannel{Channel: ch.Channel}
	s.need("function", "and 1, 2, 3 or 4: coils, discrete inputs, holding registers or input registers")
	s.need("register", "and its number on the wire, counted from 0")
	function, hasFunction := s.integer("function", 1, 4)
	register, hasRegister := s.integer("register", 0, math.MaxUint16)
	m.Function, m.Address = byte(function), uint16(register)
	unit, _ := s.integer("modbus_unit", 1, 247) // 0 where it is the port's
	m.Unit = byte(unit)
	bits := hasFunction && function <= 2
	if bits {
		m.Type = sensors.RegisterBit
	}
	if i, ok := s.choice("type", "uint16", "int16", "uint32", "int32", "float32", "bit"); ok {
		m.Type = sensors.RegisterType(i)
		switch isBit := m.Type == sensors.RegisterBit; {
		case hasFunction && bits && !isBit:
			s.trouble("type", &problem{fmt.Sprintf("function %d gives bits", function), "write type: bit or leave it out, or ask with function 3 or 4"})
		case hasFunction && !bits && isBit:
			s.trouble("type", &problem{fmt.Sprintf("function %d gives registers, not bits", function), "ask with function 1 or 2, or write type: uint16"})
		}
	}
	if bits && ch.Quantity != sensors.Contact && ch.Quantity != sensors.QuantityUnspecified {
		s.trouble("function", &problem{fmt.Sprintf("function %d gives bits, and a bit holds no %s", function, ch.Quantity), "ask with function 3 or 4"})
	}
	if i, ok := s.choice("word_order", "high-first", "low-first"); ok {
		m.LowWordFirst = i == 1
		if words(m) == 1 {
			s.trouble("word_order", &problem{"a single register or bit has no order of words", "take it out, or write the type of 32 bits that it is"})
		}
	}
	if !hasFunction || !hasRegister {
		p.config.Modbus.Channels = append(p.config.Modbus.Channels, m)
		return
	}
	d.overlap(s, p, m)
	if m.Type != sensors.RegisterFloat32 && m.Type != sensors.RegisterBit {
		ch.step = math.Abs(ch.Scale)
	}
	p.config.Modbus.Channels = append(p.config.Modbus.Channels, m)
}

// overlap refuses registers beyond the last, and registers that another channel
// has already.
func (d *draft) overlap(s *section, p *port, m sensors.ModbusChannel) {
	first, last := int(m.Address), int(m.Address)+words(m)-1
	if last > math.MaxUint16 {
		s.trouble("register", &problem{fmt.Sprintf("its second register would be %d, beyond the last, 65535", last), "correct the register or the type"})
	}
	if (m.Function == 3 || m.Function == 4) && ((first > 30000 && first < 40000 && m.Function == 4) || (first > 40000 && first < 50000 && m.Function == 3)) {
		d.c.caution(s.placeOf("register"), "%s: register %d looks like a number from a manual's table, which counts from %d001; on the wire that one is %d",
			s.what, first, first/10000, first%10000-1)
	}
	for _, other := range p.config.Modbus.Channels {
		sameUnit := p.config.Modbus.UnitOf(other) == p.config.Modbus.UnitOf(m)
		if sameUnit && other.Function == m.Function && int(other.Address) <= last && first <= int(other.Address)+words(other)-1 {
			s.trouble("register", &problem{"it is held by channel " + other.Name + " already", "correct the register or the type of one of them"})
		}
	}
}

// addressed refuses a Modbus address in unit, which on a channel says what it is
// measured in.
func (s *section) addressed() {
	n := s.value["unit"]
	if n == nil {
		return
	}
	if _, err := strconv.Atoi(n.Value); err == nil {
		s.misplaced("is what a channel is measured in", "write modbus_unit: "+n.Value+" for the address of another device on the wire", "unit")
		delete(s.value, "unit")
	}
}

// unitWords lists the devices that are asked on a port.
func unitWords(m sensors.ModbusConfig) string {
	var units []byte
	for _, c := range m.Channels {
		units = append(units, m.UnitOf(c))
	}
	slices.Sort(units)
	var words []string
	for _, unit := range slices.Compact(units) {
		words = append(words, strconv.Itoa(int(unit)))
	}
	if len(words) == 1 {
		return "unit " + words[0]
	}
	last := len(words) - 1
	return "units " + strings.Join(words[:last], ", ") + " and " + words[last]
}

// words counts the registers, or bits, that a channel takes.
func words(m sensors.ModbusChannel) int {
	switch m.Type {
	case sensors.RegisterUint32, sensors.RegisterInt32, sensors.RegisterFloat32:
		return 2
	default:
		return 1
	}
}
