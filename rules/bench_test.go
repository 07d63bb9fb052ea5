package rules

import (
	"fmt"
	"testing"
	"time"

	"simmerline/sensors"
)

// wide is a bench with so many channels, half of them probes of baths and half
// gas cells, and own rules until there are so many rules.
func wide(channels, rules int) Setup {
	s := Setup{Boiling: 94.6}
	for i := range channels / 2 {
		probe, cell := fmt.Sprintf("probe-%d", i), fmt.Sprintf("cell-%d", i)
		s.Channels = append(s.Channels,
			Channel{Name: probe, Port: fmt.Sprintf("port-%d", i/4), Quantity: sensors.Temperature},
			Channel{Name: cell, Port: fmt.Sprintf("head-%d", i/4), Quantity: sensors.GasLevel, Gas: sensors.OtherGas})
		if i%2 == 0 {
			s.Baths = append(s.Baths, Bath{Name: fmt.Sprintf("bath-%d", i), Kind: BathOther, Probes: []string{probe}})
		}
	}
	for i := len(Defaults(s)); i < rules; i++ {
		c := Condition{Kind: Above, Channel: s.Channels[i%channels].Name, Setpoint: 1000}
		if i%10 == 0 {
			c = Condition{Kind: Rising, Channel: s.Channels[i%channels].Name, Setpoint: 1000, Window: time.Minute}
		}
		s.Rules = append(s.Rules, Rule{Name: fmt.Sprintf("own-%d", i), Any: []Condition{c}, Priority: Warning, Class: EverythingElse})
	}
	return s
}

// benchmarkStep feeds one reading a step, each channel in turn, ten a second each.
func benchmarkStep(b *testing.B, channels, rules int) {
	setup := wide(channels, rules)
	e := mustNew(b, setup, 0)
	if got := len(e.alarms); got < rules {
		b.Fatalf("%d rules, want %d", got, rules)
	}
	readings := make([]sensors.Reading, len(setup.Channels))
	for i, c := range setup.Channels {
		readings[i] = pick(c, 0)
	}
	step := 100 * time.Millisecond / time.Duration(channels)
	now := time.Duration(0)
	one := make([]sensors.Reading, 1)
	feed := func(i int) {
		now += step
		one[0] = readings[i%len(readings)]
		one[0].At = now
		if _, err := e.Step(now, Input{Readings: one}); err != nil {
			b.Fatal(err)
		}
	}
	for i := range 90 * 10 * channels / 8 { // until the trends are partly full
		feed(i)
	}
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		feed(i)
		i++
	}
}

// BenchmarkStep is one reading on a large bench: 32 channels, 100 rules.
func BenchmarkStep(b *testing.B) { benchmarkStep(b, 32, 100) }

// BenchmarkStepByRules shows how a step grows with the number of rules.
func BenchmarkStepByRules(b *testing.B) {
	for _, rules := range []int{10, 30, 100, 300, 1000} {
		b.Run(fmt.Sprint(rules), func(b *testing.B) { benchmarkStep(b, 2, rules) })
	}
}

// BenchmarkView is the snapshot that clients are given, on the same bench.
func BenchmarkView(b *testing.B) {
	e := mustNew(b, wide(32, 100), 0)
	b.ReportAllocs()
	for b.Loop() {
		_ = e.View()
	}
}
