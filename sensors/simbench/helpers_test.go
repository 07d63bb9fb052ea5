package simbench

import (
	"testing"
	"time"

	"go.yaml.in/yaml/v3"

	"simmerline/sensors"
	"simmerline/sensors/lines"
	"simmerline/sensors/modbus"
)

// yard is the story's site: the computed row for 1,609 m of the table in
// testdata/reference/saturation_if97.csv (IAPWS-IF97 region 4 over the US
// Standard Atmosphere 1976).
var yard = Site{Boiling: 94.62, Pressure: 83.435}

// fileChannel and filePort are the bench file as these tests need it; package
// hub/bench reads it in earnest.
type fileChannel struct {
	Name, Quantity, Gas, From, Type, Role string
	Column, Function, Register            int
	Scale                                 float64
	Digital                               bool   `yaml:"digital_probe"`
	WarmUp                                string `yaml:"warm_up"`
}

type filePort struct {
	Name, Protocol, Format, Check string
	Unit                          int
	Channels                      []fileChannel
}

type file struct {
	Bench string
	Ports []filePort
	Baths []struct {
		Name   string
		Probes []string
	}
}

func readFile(t testing.TB) file {
	t.Helper()
	var f file
	if err := yaml.Unmarshal(BenchFile(), &f); err != nil {
		t.Fatal(err)
	}
	return f
}

func (c fileChannel) channel() sensors.Channel {
	ch := sensors.Channel{Name: c.Name, Scale: c.Scale, DigitalProbe: c.Digital}
	switch c.Quantity {
	case "gas":
		ch.Quantity = sensors.GasLevel
		ch.Gas, _ = sensors.ParseGas(c.Gas)
		ch.Low, ch.High = -10, 100
		if ch.Gas == sensors.SulfurDioxide {
			ch.High = 20
		}
		ch.WarmUp, _ = time.ParseDuration("2m")
	case "contact":
		ch.Quantity = sensors.Contact
	default:
		ch.Quantity, ch.Low, ch.High = sensors.Temperature, -50, 400
	}
	return ch
}

// configs gives the ports of the bench file.
func configs(t testing.TB) []sensors.PortConfig {
	t.Helper()
	var all []sensors.PortConfig
	for _, p := range readFile(t).Ports {
		config := sensors.PortConfig{Name: p.Name, Serial: sensors.SerialConfig{Baud: 115200, DataBits: 8, StopBits: 1}}
		if p.Protocol == "modbus" {
			config.Modbus = &sensors.ModbusConfig{Unit: byte(p.Unit), Every: time.Second}
		} else {
			config.Lines = &sensors.LinesConfig{Check: sensors.LineXORRequired}
			if p.Format == "csv" {
				config.Lines.Format = sensors.LineCSV
			}
		}
		for _, c := range p.Channels {
			if config.Lines != nil {
				config.Lines.Channels = append(config.Lines.Channels, sensors.LineChannel{Channel: c.channel(), Key: c.From, Column: c.Column})
				continue
			}
			kind := sensors.RegisterInt16
			switch {
			case c.Function == 2:
				kind = sensors.RegisterBit
			case c.Type == "float32":
				kind = sensors.RegisterFloat32
			}
			config.Modbus.Channels = append(config.Modbus.Channels, sensors.ModbusChannel{
				Channel: c.channel(), Function: byte(c.Function), Address: uint16(c.Register), Type: kind,
			})
		}
		all = append(all, config)
	}
	return all
}

// taps gives the ports with their real drivers and intakes.
func taps(t testing.TB) []Tap {
	t.Helper()
	var all []Tap
	for _, config := range configs(t) {
		tap := Tap{Config: config, Driver: driver(t, config), Intakes: map[string]*sensors.Intake{}}
		for _, c := range config.Channels() {
			tap.Intakes[c.Name] = sensors.NewIntake(c, config.Settle)
		}
		all = append(all, tap)
	}
	return all
}

func driver(t testing.TB, config sensors.PortConfig) sensors.Driver {
	t.Helper()
	var d sensors.Driver
	var err error
	if config.Modbus != nil {
		d, err = modbus.New(*config.Modbus)
	} else {
		d, err = lines.New(*config.Lines)
	}
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// play runs a scenario's script on a bare world up to an offset, and calls see
// after each second.
func play(t testing.TB, s Scenario, seed uint64, to time.Duration, see func(at time.Duration, w *World)) {
	t.Helper()
	b := newBench(t, s, seed)
	for at := time.Duration(0); at <= to; at += time.Second {
		b.look(at)
		see(at, b.world)
	}
}

func newBench(t testing.TB, s Scenario, seed uint64) *Bench {
	t.Helper()
	b, err := NewBench(s, yard, seed)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// heard keeps the readings of a pre-roll by channel.
type heard map[string][]sensors.Reading

func (h heard) keep(b sensors.Batch) {
	for _, r := range b.Readings {
		h[r.Channel] = append(h[r.Channel], r)
	}
}

// prerolled runs a whole stretch of a scenario through the real drivers.
func prerolled(t testing.TB, s Scenario, seed uint64, to time.Duration) (heard, []sensors.Batch) {
	t.Helper()
	h := heard{}
	var batches []sensors.Batch
	err := newBench(t, s, seed).Preroll(0, to, taps(t), func(b sensors.Batch) {
		h.keep(b)
		batches = append(batches, b)
	})
	if err != nil {
		t.Fatal(err)
	}
	return h, batches
}

func find(t testing.TB, name string) Scenario {
	t.Helper()
	s, ok := Find(name)
	if !ok {
		t.Fatalf("no scenario %q", name)
	}
	return s
}
