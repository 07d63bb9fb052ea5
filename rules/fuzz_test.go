package rules

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"simmerline/sensors"
)

// Whatever is found where the saved alarms should be: it is refused with a word,
// or the engine goes on with it, and still calls for gas and keeps its
// invariants.
func FuzzRestore(f *testing.F) {
	e := mustNew(f, studio(), 0)
	r := &rig{t: f, engine: e}
	f.Add([]byte(`{"version":1}`), int64(0), int64(0))
	r.feed(20*time.Second, celsius("hot", 95), ppm("h2s", 9), celsius("rinse", 20))
	_ = r.command(Acknowledge, "fume-h2s-danger", "seen")
	data, err := e.Saved()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(data, int64(time.Minute), int64(time.Minute))
	f.Add([]byte(`{"version":1,"baths":[{"name":"hot-sulfide","lead":"hot","last":1e308}],"raised":9223372036854775807,
		"alarms":[{"name":"hot-lost","state":"suppressed_by_design","led_by":-3,"conditions":[{},{},{}]},
		{"name":"fume-h2s-danger","state":"latched_unacknowledged","held_ns":-9}]}`), int64(-1), int64(-1<<63))
	f.Fuzz(func(t *testing.T, data []byte, age, dark int64) {
		e := mustNew(t, studio(), time.Hour)
		r := &rig{t: t, engine: e, now: time.Hour}
		if _, err := e.Restore(data, time.Duration(age), time.Duration(dark)); err != nil {
			if !strings.HasPrefix(err.Error(), "rules: the saved alarms ") {
				t.Errorf("refused with %q", err)
			}
			return
		}
		view := e.View()
		if again, err := e.Saved(); err != nil || !json.Valid(again) {
			t.Fatalf("can't be saved again: %v", err)
		}
		for _, a := range view.Alarms {
			if a.RaisedAt > e.now || a.ChangedAt > e.now || a.FirstOut < 0 || a.State == Shelved || a.State == OutOfService {
				t.Errorf("%s came back as %+v", a.Name, a)
			}
		}
		r.feed(20*time.Second, celsius("hot", 95), ppm("h2s", 9))
		for _, name := range []string{"fume-h2s-danger", "hot-sulfide-danger"} {
			if s := r.state(name); s != Unacknowledged && s != Acknowledged {
				t.Errorf("%s is %s over its setpoint", name, s)
			}
		}
		for range 6 {
			r.now += 55 * time.Second
			r.feed(5*time.Second, celsius("hot", 95), ppm("h2s", 9))
		}
		if e.Sounding() != Danger {
			t.Errorf("after six minutes of danger it sounds %s", e.Sounding())
		}
	})
}

// Whatever a setup holds, New refuses it or runs it without a panic, and a gas
// over range calls.
func FuzzSetup(f *testing.F) {
	f.Add("a", "pot", byte(1), byte(1), 90.0, 2.0, 10.0, int64(time.Second), int64(0), int64(time.Minute), true)
	f.Add("", "", byte(23), byte(4), 0.0, 0.0, 0.0, int64(0), int64(-1), int64(0), false)
	f.Add("h2s", "", byte(16), byte(2), -1e308, 1e308, 1e308, int64(1)<<62, int64(1)<<62, int64(1)<<62, true)
	f.Fuzz(func(t *testing.T, channel, bath string, kind, priority byte, setpoint, low, deadband float64, on, off, window int64, latching bool) {
		setup := small()
		setup.Rules = []Rule{{
			Name: "own", Any: []Condition{{Kind: Kind(kind), Channel: channel, Bath: bath,
				Setpoint: setpoint, SetpointLow: low, Window: time.Duration(window)}},
			Deadband: deadband, OnDelay: time.Duration(on), OffDelay: time.Duration(off),
			Priority: Priority(priority), Class: EverythingElse, Latching: latching,
		}}
		e, err := New(setup, 0)
		if err != nil {
			for _, line := range strings.Split(err.Error(), "\n") {
				if !strings.HasPrefix(line, "rules: ") {
					t.Errorf("refused with %q", line)
				}
			}
			return
		}
		r := &rig{t: t, engine: e}
		r.feed(30*time.Second, calm(60)...)
		r.feed(30*time.Second, calm(95)...)
		r.feed(10*time.Second, but(calm(20), bad("h2s", sensors.ReasonOverRange))...)
		r.want("fume-h2s-danger", Unacknowledged)
		r.want("pot-danger", Unacknowledged, RTNUnacknowledged)
		_ = e.View()
	})
}
