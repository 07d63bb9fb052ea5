package bench

import (
	"strings"
	"testing"
)

// Two devices on one wire: registers overlap only within one of them.
func TestChannelOfAnotherUnitOnTheWire(t *testing.T) {
	text := func(second string) string {
		return `
bench: Pennywhistle Yard
site: {altitude: 1609 m}
ports:
  - name: wire
    device: {path: /dev/ttyUSB0}
    protocol: modbus
    baud: 19200
    unit: 17
    channels:
      - {name: hot, quantity: temperature, function: 3, register: 0, type: int16}
      - {name: cool, quantity: temperature, ` + second + ` function: 3, register: 0, type: int16}
`
	}
	b, faults := Parse("bench.yaml", []byte(text("modbus_unit: 5,")))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	m := b.Ports[0].Modbus
	if got := [2]byte{m.UnitOf(m.Channels[0]), m.UnitOf(m.Channels[1])}; got != [2]byte{17, 5} {
		t.Errorf("units %v, want 17 and 5", got)
	}
	for _, second := range []string{"", "modbus_unit: 17,"} {
		if _, faults := Parse("bench.yaml", []byte(text(second))); len(faults) != 1 || !strings.Contains(faults[0].What, "held by channel hot") {
			t.Errorf("%q: got %v, want that the register is held already", second, faults)
		}
	}
	if _, faults := Parse("bench.yaml", []byte(text("modbus_unit: 300,"))); len(faults) == 0 || !strings.Contains(faults[0].What, "300") {
		t.Errorf("a unit of 300: got %v, want it refused", faults)
	}
}
