package bench

import (
	"bytes"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"unicode"

	"simmerline/rules"
	"simmerline/sensors"
	"simmerline/sensors/lines"
	"simmerline/sensors/modbus"
)

// FuzzParse holds, for any text: nothing panics; there is either a bench or at
// least one fault; every fault stands inside the file, on one line, in order;
// and an accepted bench is accepted again, to the same bench.
func FuzzParse(f *testing.F) {
	for _, folder := range []string{"good", "bad"} {
		for _, path := range samples(f, folder) {
			f.Add(read(f, path))
		}
	}
	pennywhistle, _ := filepath.Glob("../../sensors/simbench/*.yaml")
	for _, path := range pennywhistle {
		f.Add(read(f, path))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		b, faults := Parse("bench.yaml", text)
		if (b == nil) != (len(faults) > 0) {
			t.Fatalf("bench %v with %d faults", b != nil, len(faults))
		}
		checkFaults(t, text, faults)
		if b == nil {
			return
		}
		checkBench(t, b)
		again, faults := Parse("bench.yaml", b.Text)
		if len(faults) > 0 || !reflect.DeepEqual(b, again) {
			t.Fatalf("not the same bench again: %v", faults)
		}
	})
}

func checkFaults(t *testing.T, text []byte, faults []Fault) {
	t.Helper()
	last := Fault{Line: 1, Column: 1}
	long := bytes.Count(text, []byte("\n")) + 1
	for _, fault := range faults {
		if fault.Line < last.Line || fault.Line == last.Line && fault.Column < last.Column {
			t.Errorf("%s comes after %s", fault, last)
		}
		if fault.Line > long || fault.Column < 1 || fault.Column > len(text)+1 {
			t.Errorf("%s is outside a file of %d lines", fault, long)
		}
		if fault.What == "" || fault.Mend == "" || strings.ContainsFunc(fault.String(), func(r rune) bool { return !unicode.IsPrint(r) }) {
			t.Errorf("%q is not one line of what and mend", fault)
		}
		last = fault
	}
}

// checkBench holds what an accepted bench promises to those who run it.
func checkBench(t *testing.T, b *Bench) {
	t.Helper()
	if _, err := rules.New(b.Setup, 0); err != nil {
		t.Errorf("the engine refuses it: %v", err)
	}
	names := map[string]bool{}
	once := func(name string) {
		if name == "" || names[name] {
			t.Errorf("the name %q is empty or stands twice", name)
		}
		names[name] = true
	}
	for _, p := range b.Ports {
		once("port " + p.Name)
		a := p.Address
		if ways := count(a.Path != "", a.ByID != "", a.USBSerial != ""); ways != 1 {
			t.Errorf("port %s has %d devices", p.Name, ways)
		}
		if (p.Lines == nil) == (p.Modbus == nil) || p.Serial.Baud <= 0 || len(p.Channels()) == 0 {
			t.Errorf("port %s can't be run: %+v", p.Name, p)
		}
		if err := driverTakes(p); err != nil {
			t.Errorf("port %s: its driver refuses it: %v", p.Name, err)
		}
		for _, ch := range p.Channels() {
			once("channel " + ch.Name)
			if ch.Quantity == sensors.QuantityUnspecified || ch.Quantity != sensors.Contact && !(ch.Low < ch.High) {
				t.Errorf("channel %s can't be read: %+v", ch.Name, ch)
			}
			if ch.Quantity == sensors.GasLevel == (ch.Gas == sensors.GasUnspecified) {
				t.Errorf("channel %s: gas %s of quantity %s", ch.Name, ch.Gas, ch.Quantity)
			}
		}
	}
	for _, bath := range b.Setup.Baths {
		once("bath " + bath.Name)
		if len(bath.Probes) == 0 || bath.RangeHigh >= b.Setup.Boiling {
			t.Errorf("bath %s can't be watched: %+v", bath.Name, bath)
		}
		for _, probe := range bath.Probes {
			once("probe " + probe) // a probe hangs in one bath
		}
	}
	for _, r := range b.Setup.Rules {
		if r.Class.KeepsAway() && (r.Words.Own || r.Words.NearBench) {
			t.Errorf("rule %s: words of the file in a fume rule: %+v", r.Name, r.Words)
		}
		if r.Words.Do == "" || r.Words.Means == "" {
			t.Errorf("rule %s says nothing", r.Name)
		}
	}
	if text := Explain(b); !strings.Contains(text, b.Name) {
		t.Errorf("the explanation does not name the bench:\n%s", text)
	}
}

// driverTakes makes the driver of a port, as whoever runs the bench will.
func driverTakes(p sensors.PortConfig) (err error) {
	if p.Lines != nil {
		_, err = lines.New(*p.Lines)
	}
	if p.Modbus != nil {
		_, err = modbus.New(*p.Modbus)
	}
	return err
}

func count(all ...bool) (n int) {
	for _, b := range all {
		if b {
			n++
		}
	}
	return n
}
