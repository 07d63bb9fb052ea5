package rules

import (
	"fmt"
	"reflect"
	"testing"
	"time"

	"pgregory.net/rapid"

	"simmerline/sensors"
)

// moment is one step of a random story.
type moment struct {
	after   time.Duration // since the step before
	in      Input         // a reading's At is minus its age
	pick    int           // which of the standing alarms a command is about
	stretch int           // what follows for a while: 1 a bath over its line, 2 calm
}

// input makes a moment's input at this time of this engine.
func (m moment) input(e *Engine, now time.Duration) Input {
	in := m.in
	in.Readings = nil
	for _, r := range m.in.Readings {
		r.At += now
		in.Readings = append(in.Readings, r)
	}
	if in.Command != nil {
		c := *in.Command
		c.Alarm = e.alarms[m.pick%len(e.alarms)].rule.Name
		var standing []string
		for _, a := range e.alarms {
			if a.state.Stands() {
				standing = append(standing, a.rule.Name)
			}
		}
		if len(standing) > 0 && m.pick%4 > 0 {
			c.Alarm = standing[m.pick%len(standing)]
		}
		in.Command = &c
	}
	return in
}

// storyBench is a bench on which a random story touches every kind of rule.
func storyBench() Setup {
	s := studio()
	s.Rules = []Rule{
		{Name: "odd", Any: []Condition{
			{Kind: Rising, Bath: "hot-sulfide", Setpoint: 8, Window: 20 * time.Second},
			{Kind: Stuck, Channel: "rinse", Setpoint: 0.1, Window: 30 * time.Second},
			{Kind: Outside, Channel: "nh3", Setpoint: 30, SetpointLow: -1},
			{Kind: Below, Bath: "soda", Setpoint: 10},
			{Kind: Silent, Channel: "cool"}, {Kind: OutOfRange, Channel: "cool"},
		}, Deadband: 0.5, OnDelay: 3 * time.Second, OffDelay: 4 * time.Second,
			Priority: Warning, Class: EverythingElse, Latching: true, WhileInUse: true, Subject: "odd"},
		{Name: "flow-stops", Any: []Condition{{Kind: ContactOpen, Channel: "airflow"}},
			Priority: Danger, Class: EverythingElse, Subject: "fan"},
	}
	return s
}

// drawReading gives a reading of any quality, mostly near the setpoints.
func drawReading(t *rapid.T, c Channel) sensors.Reading {
	quality := rapid.SampledFrom([]sensors.Quality{
		sensors.QualityGood, sensors.QualityGood, sensors.QualityGood, sensors.QualityGood,
		sensors.QualityUncertain, sensors.QualityBad, sensors.QualityUnknown,
	}).Draw(t, "quality")
	r := sensors.Reading{Channel: c.Name, Quality: quality}
	if quality == sensors.QualityGood || quality == sensors.QualityUncertain {
		var value float64
		switch c.Quantity {
		case sensors.GasLevel:
			value = rapid.SampledFrom([]float64{0, 0.4, 0.9, 1.1, 3.9, 4.9, 5, 9, 26, 40}).Draw(t, "ppm")
		case sensors.Contact:
			value = float64(rapid.IntRange(0, 1).Draw(t, "closed"))
		default:
			value = rapid.SampledFrom([]float64{8, 22, 37, 39, 41, 60, 82, 84.9, 85, 87.9, 88.5, 90, 92, 99}).Draw(t, "celsius")
		}
		r.Value = sensors.MustValue(c.Quantity, value)
	}
	if quality != sensors.QualityGood {
		r.Reason = rapid.SampledFrom([]sensors.Reason{
			sensors.ReasonOverRange, sensors.ReasonDeviceFault, sensors.ReasonWarmingUp, sensors.ReasonPowerOnValue,
		}).Draw(t, "reason")
	}
	return r
}

// drawStory gives a random story over the bench: readings, unplugging, sleep,
// facts and people.
func drawStory(t *rapid.T, setup Setup) []moment {
	drawn := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) moment {
		m := moment{stretch: rapid.IntRange(0, 20).Draw(t, "stretch")}
		m.after = rapid.SampledFrom([]time.Duration{
			0, 100 * time.Millisecond, time.Second, time.Second, 3 * time.Second, 11 * time.Second, 2 * time.Minute,
		}).Draw(t, "after")
		for range rapid.IntRange(0, 5).Draw(t, "readings") {
			r := drawReading(t, rapid.SampledFrom(setup.Channels).Draw(t, "channel"))
			r.At = -rapid.SampledFrom([]time.Duration{0, 0, 0, time.Second, -time.Minute}).Draw(t, "age")
			m.in.Readings = append(m.in.Readings, r)
		}
		switch rapid.IntRange(0, 11).Draw(t, "else") {
		case 0:
			m.in.Ports = []PortChange{{Port: rapid.SampledFrom(setup.Channels).Draw(t, "port").Port, Gone: rapid.Bool().Draw(t, "gone")}}
		case 1:
			m.in.Slept = rapid.IntRange(0, 4).Draw(t, "slept") == 0
		case 2:
			m.in.Facts = &Facts{CanCall: rapid.Bool().Draw(t, "can call"), RecordFails: rapid.SampledFrom([]string{"", "the disk is full"}).Draw(t, "record")}
		case 3, 4, 5, 6:
			m.in.Command = &Command{
				Kind: rapid.SampledFrom([]CommandKind{Acknowledge, Acknowledge, Reset, Reset, PutAway, TakeIntoUse}).Draw(t, "command"),
				By:   "Ilo", Why: rapid.SampledFrom([]string{"", "seen"}).Draw(t, "why"),
			}
			m.pick = rapid.IntRange(0, 1000).Draw(t, "pick")
		}
		return m
	}), 1, 120).Draw(t, "story")
	var story []moment
	for _, m := range drawn {
		story = append(story, m)
		steady := Input{Readings: allCalm(setup)}
		switch m.stretch {
		case 1:
			for i, r := range steady.Readings {
				if r.Channel == "hot" || r.Channel == "hot-twin" {
					steady.Readings[i] = celsius(r.Channel, 93)
				}
			}
		case 2:
		default:
			continue
		}
		for range 15 { // long enough for any delay to end
			story = append(story, moment{after: 10 * time.Second, in: steady})
		}
		for i := range 6 { // and people come back to what stands
			kind := Acknowledge
			if i%2 > 0 {
				kind = Reset
			}
			story = append(story, moment{in: Input{Command: &Command{Kind: kind, By: "Maren"}}, pick: i + 1})
		}
	}
	return story
}

// allCalm is a good reading of every channel that means no alarm.
func allCalm(setup Setup) (readings []sensors.Reading) {
	for _, c := range setup.Channels {
		readings = append(readings, pick(c, 0))
	}
	return readings
}

// play takes an engine through a story from its own start on. With split, every
// reading gets a step of its own; with noise, strangers talk in between.
func play(e *Engine, story []moment, split, noise bool) (events []Event, refused []string) {
	now := e.Now()
	step := func(in Input) {
		if noise {
			in.Readings = append([]sensors.Reading{celsiusFrom("stranger", now, 99)}, in.Readings...)
		}
		got, err := e.Step(now, in)
		events = append(events, got...)
		if err != nil {
			refused = append(refused, err.Error())
		}
	}
	for _, m := range story {
		now += m.after
		in := m.input(e, now)
		if !split || len(in.Readings) < 2 {
			step(in)
			continue
		}
		first := in
		first.Command, first.Readings = nil, in.Readings[:1]
		step(first)
		for _, r := range in.Readings[1 : len(in.Readings)-1] {
			step(Input{Readings: []sensors.Reading{r}})
		}
		step(Input{Readings: in.Readings[len(in.Readings)-1:], Command: in.Command})
	}
	return events, refused
}

func celsiusFrom(channel string, at time.Duration, v float64) sensors.Reading {
	r := celsius(channel, v)
	r.At = at
	return r
}

func mustNew(t testing.TB, setup Setup, now time.Duration) *Engine {
	t.Helper()
	e, err := New(setup, now)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// How a loop batches what it hears, when its clock began, and what strangers say
// change nothing.
func TestBatchesShiftsAndStrangersChangeNothing(t *testing.T) {
	setup := storyBench()
	rapid.Check(t, func(rt *rapid.T) {
		story := drawStory(rt, setup)
		shift := time.Duration(rapid.Int64Range(0, int64(1000*time.Hour)).Draw(rt, "shift"))
		plain := mustNew(t, setup, 0)
		want, refused := play(plain, story, false, false)
		split := mustNew(t, setup, 0)
		got, gotRefused := play(split, story, true, false)
		sameEvents(rt, "split", want, got, 0)
		sameView(rt, "split", plain, split)
		if !reflect.DeepEqual(refused, gotRefused) {
			rt.Errorf("split: refused %q, want %q", gotRefused, refused)
		}
		strange := mustNew(t, setup, 0)
		got, _ = play(strange, story, false, true)
		sameEvents(rt, "strangers", want, got, 0)
		sameView(rt, "strangers", plain, strange)
		shifted := mustNew(t, setup, shift)
		got, _ = play(shifted, story, false, false)
		sameEvents(rt, "shifted", want, got, shift)
		for i, a := range shifted.alarms {
			if b := plain.alarms[i]; a.state != b.state || a.active != b.active {
				rt.Errorf("shifted: %s is %s, want %s", a.rule.Name, a.state, b.state)
			}
		}
	})
}

func sameEvents(t *rapid.T, what string, want, got []Event, shift time.Duration) {
	if len(want) != len(got) {
		t.Fatalf("%s: %d events, want %d", what, len(got), len(want))
	}
	for i, g := range got {
		w := want[i]
		w.At += shift
		w.Trigger.At, g.Trigger.At = 0, 0
		if g != w {
			t.Fatalf("%s: event %d is %s, want %s", what, i, inShort(g), inShort(w))
		}
	}
}

func inShort(e Event) string {
	return fmt.Sprintf("%v %s %s %s->%s (%d, %+v) %q", e.At, e.Alarm, e.Cause, e.From, e.To, e.FirstOut, e.Trigger, e.Sentence)
}

func sameView(t *rapid.T, what string, want, got *Engine) {
	if w, g := want.View(), got.View(); !reflect.DeepEqual(w, g) {
		t.Fatalf("%s: the view differs:\n%+v\nwant\n%+v", what, g, w)
	}
}

// twin is the slow and obvious form of one alarm over one channel: at or above
// a setpoint, with deadband and delays, judged from its whole past each time.
// A step is what was known in it: yes, no, or nothing.
type twinStep struct {
	at    time.Duration
	known bool
	value float64
}

const (
	twinSetpoint = 50.0
	twinDeadband = 2.0
	twinOn       = 5 * time.Second
	twinOff      = 7 * time.Second
)

// twinActive walks the past from the beginning.
func twinActive(past []twinStep) bool {
	active, over := false, false
	trueSince, falseSince := time.Duration(-1), time.Duration(-1)
	for _, s := range past {
		if s.known {
			if over {
				over = s.value >= twinSetpoint-twinDeadband
			} else {
				over = s.value >= twinSetpoint
			}
			if over {
				falseSince = -1
				if trueSince < 0 {
					trueSince = s.at
				}
			} else {
				trueSince = -1
				if falseSince < 0 {
					falseSince = s.at
				}
			}
		} else {
			falseSince = -1 // clearing needs evidence without a break
		}
		switch {
		case !active && s.known && over && s.at-trueSince >= twinOn:
			active, falseSince = true, -1
		case active && s.known && !over && s.at-falseSince >= twinOff:
			active, trueSince = false, -1
		}
		if !active {
			falseSince = -1
		}
	}
	return active
}

// The engine's delays and deadband are those of the slow twin, over readings of
// every quality; and what is not good neither raises nor clears.
func TestDelaysAndDeadbandAgreeWithSlowTwin(t *testing.T) {
	setup := Setup{
		Boiling:  100,
		Channels: []Channel{{Name: "a", Port: "one", Quantity: sensors.Temperature, SilentAfter: time.Hour}},
		Rules: []Rule{{Name: "over", Any: []Condition{{Kind: Above, Channel: "a", Setpoint: twinSetpoint}},
			Deadband: twinDeadband, OnDelay: twinOn, OffDelay: twinOff, Priority: Warning, Class: EverythingElse}},
	}
	rapid.Check(t, func(rt *rapid.T) {
		e := mustNew(t, setup, 0)
		alarm := e.alarm("over")
		var past []twinStep
		var latest twinStep
		heard := false
		now := time.Duration(0)
		for range rapid.IntRange(1, 80).Draw(rt, "steps") {
			now += time.Duration(rapid.IntRange(0, 4000).Draw(rt, "after")) * time.Millisecond
			in := Input{}
			before := alarm.active
			quality := sensors.QualityUnknown
			if rapid.IntRange(0, 3).Draw(rt, "talks") > 0 {
				quality = rapid.SampledFrom([]sensors.Quality{
					sensors.QualityGood, sensors.QualityGood, sensors.QualityGood, sensors.QualityUncertain, sensors.QualityBad,
				}).Draw(rt, "quality")
				r := sensors.Reading{Channel: "a", At: now, Quality: quality}
				latest = twinStep{known: quality == sensors.QualityGood}
				if quality != sensors.QualityBad {
					latest.value = rapid.SampledFrom([]float64{40, 47.9, 48, 49, 49.9, 50, 51, 60}).Draw(rt, "value")
					r.Value = sensors.MustValue(sensors.Temperature, latest.value)
				}
				in.Readings = []sensors.Reading{r}
				heard = true
			}
			step := latest
			step.at, step.known = now, latest.known && heard
			past = append(past, step)
			if _, err := e.Step(now, in); err != nil {
				rt.Fatal(err)
			}
			if got, want := alarm.active, twinActive(past); got != want {
				rt.Fatalf("at %v: active %v, the slow twin says %v, after %v", now, got, want, past)
			}
			if alarm.active != before && (quality == sensors.QualityBad || quality == sensors.QualityUncertain) {
				rt.Fatalf("at %v: a reading that is %s changed the alarm to %v", now, quality, alarm.active)
			}
		}
	})
}
