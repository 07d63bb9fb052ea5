package rules

import (
	"testing"
	"time"

	"simmerline/sensors"
)

// rig drives an engine over a bench step by step, for tests that need more
// than a scenario can say.
type rig struct {
	t      testing.TB
	engine *Engine
	now    time.Duration
	events []Event // of every step so far
}

func newRig(t testing.TB, setup Setup) *rig {
	t.Helper()
	engine, err := New(setup, 0)
	if err != nil {
		t.Fatal(err)
	}
	return &rig{t: t, engine: engine}
}

// good, doubtful and bad make readings whose time is filled in by feed.
func good(channel string, q sensors.Quantity, v float64) sensors.Reading {
	return sensors.Reading{Channel: channel, Value: sensors.MustValue(q, v), Quality: sensors.QualityGood}
}

func doubtful(channel string, q sensors.Quantity, v float64, reason sensors.Reason) sensors.Reading {
	r := good(channel, q, v)
	r.Quality, r.Reason = sensors.QualityUncertain, reason
	return r
}

func bad(channel string, reason sensors.Reason) sensors.Reading {
	return sensors.Reading{Channel: channel, Quality: sensors.QualityBad, Reason: reason}
}

// celsius and ppm are the readings that most tests need.
func celsius(channel string, v float64) sensors.Reading { return good(channel, sensors.Temperature, v) }
func ppm(channel string, v float64) sensors.Reading     { return good(channel, sensors.GasLevel, v) }

// feed goes on for so long, a step each second, with these readings in each.
func (r *rig) feed(span time.Duration, readings ...sensors.Reading) {
	r.t.Helper()
	for end := r.now + span; r.now < end; {
		r.now += time.Second
		in := Input{}
		for _, reading := range readings {
			reading.At = r.now
			in.Readings = append(in.Readings, reading)
		}
		r.step(in)
	}
}

func (r *rig) step(in Input) error {
	events, err := r.engine.Step(r.now, in)
	r.events = append(r.events, events...)
	return err
}

func (r *rig) command(kind CommandKind, alarm, why string) error {
	return r.step(Input{Command: &Command{Kind: kind, Alarm: alarm, By: "Maren", Why: why}})
}

func (r *rig) state(alarm string) State {
	r.t.Helper()
	a := r.engine.alarm(alarm)
	if a == nil {
		r.t.Fatalf("the bench has no alarm %q", alarm)
	}
	return a.state
}

func (r *rig) want(alarm string, states ...State) {
	r.t.Helper()
	got := r.state(alarm)
	for _, s := range states {
		if got == s {
			return
		}
	}
	r.t.Errorf("at %v: %s is %s, want %v", r.now, alarm, got, states)
}

// restart saves, makes a new engine at the same moment, and restores.
func (r *rig) restart(setup Setup, age, dark time.Duration) {
	r.t.Helper()
	data, err := r.engine.Saved()
	if err != nil {
		r.t.Fatal(err)
	}
	if r.engine, err = New(setup, r.now); err != nil {
		r.t.Fatal(err)
	}
	if _, err := r.engine.Restore(data, age, dark); err != nil {
		r.t.Fatal(err)
	}
}

// small is a bench with one sulfide bath with two probes, one gas cell and the
// airflow contact, each on a port of its own.
func small() Setup {
	return Setup{
		Boiling: 100, BoilingFrom: "the sea",
		Channels: []Channel{
			{Name: "a", Port: "one", Quantity: sensors.Temperature},
			{Name: "b", Port: "two", Quantity: sensors.Temperature},
			{Name: "h2s", Port: "head", Quantity: sensors.GasLevel, Gas: sensors.HydrogenSulfide},
			{Name: "flow", Port: "hood", Quantity: sensors.Contact, Airflow: true},
		},
		Baths: []Bath{{Name: "pot", Label: "pot", Kind: BathSulfide, Probes: []string{"a", "b"}}},
	}
}

// calm are readings that mean no alarm, with the bath at that temperature.
func calm(temperature float64) []sensors.Reading {
	return []sensors.Reading{
		celsius("a", temperature), celsius("b", temperature), ppm("h2s", 0), good("flow", sensors.Contact, 1),
	}
}

// but gives the readings with those of the same channel put in their place.
func but(readings []sensors.Reading, instead ...sensors.Reading) []sensors.Reading {
	changed := append([]sensors.Reading(nil), readings...)
	for _, r := range instead {
		for i := range changed {
			if changed[i].Channel == r.Channel {
				changed[i] = r
			}
		}
	}
	return changed
}

// without gives the readings but those of the named channels.
func without(readings []sensors.Reading, channels ...string) (rest []sensors.Reading) {
	for _, r := range readings {
		dropped := false
		for _, c := range channels {
			dropped = dropped || r.Channel == c
		}
		if !dropped {
			rest = append(rest, r)
		}
	}
	return rest
}
