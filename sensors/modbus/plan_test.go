package modbus

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"simmerline/sensors"
)

func at(function byte, address uint16, t sensors.RegisterType) sensors.ModbusChannel {
	return sensors.ModbusChannel{Function: function, Address: address, Type: t}
}

func ofUnit(unit byte, c sensors.ModbusChannel) sensors.ModbusChannel {
	c.Unit = unit
	return c
}

func TestPlan(t *testing.T) {
	long := []sensors.ModbusChannel{}
	for i := range 130 {
		long = append(long, at(3, uint16(i), sensors.RegisterUint16))
	}
	for _, test := range []struct {
		name     string
		channels []sensors.ModbusChannel
		want     string
	}{
		{"one", []sensors.ModbusChannel{at(4, 8, sensors.RegisterUint16)}, "04@8+1"},
		{"neighbours in any order", []sensors.ModbusChannel{
			at(4, 10, sensors.RegisterFloat32), at(4, 8, sensors.RegisterUint32), at(4, 12, sensors.RegisterInt16)}, "04@8+5"},
		{"a gap is not bridged", []sensors.ModbusChannel{
			at(4, 8, sensors.RegisterUint16), at(4, 10, sensors.RegisterUint16)}, "04@8+1 04@10+1"},
		{"units stay apart", []sensors.ModbusChannel{
			ofUnit(9, at(4, 8, sensors.RegisterUint16)), ofUnit(5, at(4, 9, sensors.RegisterUint16)), ofUnit(9, at(4, 9, sensors.RegisterUint16))},
			"04@9+1 04@8+2"},
		{"functions stay apart", []sensors.ModbusChannel{
			at(3, 8, sensors.RegisterUint16), at(4, 9, sensors.RegisterUint16), at(1, 9, sensors.RegisterBit), at(2, 10, sensors.RegisterBit)},
			"01@9+1 02@10+1 03@8+1 04@9+1"},
		{"overlapping", []sensors.ModbusChannel{
			at(4, 8, sensors.RegisterUint32), at(4, 8, sensors.RegisterUint16), at(4, 9, sensors.RegisterUint16)}, "04@8+2"},
		{"up to the last address", []sensors.ModbusChannel{at(4, 65534, sensors.RegisterUint32)}, "04@65534+2"},
		{"no more than fits in a reply", long, "03@0+125 03@125+5"},
	} {
		var words []string
		for _, s := range Plan(test.channels) {
			words = append(words, fmt.Sprintf("%02d@%d+%d", s.Function, s.Address, s.Count))
		}
		if got := strings.Join(words, " "); got != test.want {
			t.Errorf("%s: %s, want %s", test.name, got, test.want)
		}
	}
}

// Held against a plain restatement: the registers asked for are those of the
// channels and no others, every channel lies whole in one span, and each span
// is a request that may be sent.
func TestPlanAsksForWhatIsMappedAndNothingElse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		channels := rapid.SliceOfN(rapid.Custom(drawChannel), 1, 60).Draw(t, "channels")
		type place struct {
			unit, function byte
			address        int
		}
		mapped, asked := map[place]bool{}, map[place]bool{}
		for _, c := range channels {
			for i := range width(c.Type) {
				mapped[place{c.Unit, c.Function, int(c.Address) + i}] = true
			}
		}
		var planned []int
		turns := units(Plan(channels))
		for i, u := range turns {
			for _, s := range u.spans {
				if s.Unit != u.spans[0].Unit || i > 0 && s.Unit <= turns[i-1].spans[0].Unit {
					t.Errorf("turn %d has a span of unit %d, not of one unit that no turn before has", i, s.Unit)
				}
			}
		}
		for _, s := range Plan(channels) {
			if err := (Request{Unit: s.Unit, Function: s.Function, Address: s.Address, Count: s.Count}).Validate(); err != nil {
				t.Errorf("%v", err)
			}
			for i := range int(s.Count) {
				asked[place{s.Unit, s.Function, int(s.Address) + i}] = true
			}
			for _, i := range s.Channels {
				c := channels[i]
				if c.Unit != s.Unit || c.Function != s.Function || c.Address < s.Address || int(c.Address)+width(c.Type) > int(s.Address)+int(s.Count) {
					t.Errorf("channel %+v is not in its span %+v", c, s)
				}
			}
			planned = append(planned, s.Channels...)
		}
		if len(asked) != len(mapped) {
			t.Errorf("%d registers asked for, %d are mapped", len(asked), len(mapped))
		}
		for p := range mapped {
			if !asked[p] {
				t.Errorf("%v is not asked for", p)
			}
		}
		slices.Sort(planned)
		for i := range channels {
			if i >= len(planned) || planned[i] != i {
				t.Fatalf("channels planned: %v, want each of %d once", planned, len(channels))
			}
		}
	})
}

func drawChannel(t *rapid.T) sensors.ModbusChannel {
	function := byte(rapid.IntRange(1, 4).Draw(t, "function"))
	kind := sensors.RegisterBit
	if function > 2 {
		kind = sensors.RegisterType(rapid.IntRange(0, int(sensors.RegisterFloat32)).Draw(t, "type"))
	}
	address := rapid.OneOf(rapid.IntRange(0, 300), rapid.IntRange(65400, 65534)).Draw(t, "address")
	return ofUnit(byte(rapid.IntRange(1, 3).Draw(t, "unit")), at(function, uint16(address), kind))
}

func TestNewRefusesWhatCannotBeAsked(t *testing.T) {
	good := func(change func(*sensors.ModbusConfig)) sensors.ModbusConfig {
		config := hotConfig(sensors.EchoAuto)
		change(&config)
		return config
	}
	for _, test := range []struct {
		config sensors.ModbusConfig
		says   string
	}{
		{good(func(c *sensors.ModbusConfig) { c.Unit = 0 }), "unit 0"},
		{good(func(c *sensors.ModbusConfig) { c.Unit = 248 }), "unit 248"},
		{good(func(c *sensors.ModbusConfig) { c.Channels[0].Unit = 248 }), "channel \"hot\": unit 248"},
		{good(func(c *sensors.ModbusConfig) { c.Channels = nil }), "no channels"},
		{good(func(c *sensors.ModbusConfig) { c.Every = -1 }), "every"},
		{good(func(c *sensors.ModbusConfig) { c.Timeout = 10 * ms }), "10ms"},
		{good(func(c *sensors.ModbusConfig) { c.Channels[0].Function = 5 }), "function 5"},
		{good(func(c *sensors.ModbusConfig) { c.Channels[0].Function = 1 }), "reads bits"},
		{good(func(c *sensors.ModbusConfig) { c.Channels[0].Type = sensors.RegisterBit }), "reads registers"},
		{good(func(c *sensors.ModbusConfig) { c.Channels[0].Type = 99 }), "type 99"},
		{good(func(c *sensors.ModbusConfig) {
			c.Channels[0].Address = 65535
			c.Channels[0].Type = sensors.RegisterInt32
		}), "65535"},
	} {
		if _, err := New(test.config); err == nil || !strings.Contains(err.Error(), test.says) {
			t.Errorf("error %v, want one that says %q", err, test.says)
		}
	}
	if d := driver(t, hotConfig(sensors.EchoAuto)); d.Interval() != defaultEvery {
		t.Errorf("interval %v where none is given, want %v", d.Interval(), defaultEvery)
	}
}
