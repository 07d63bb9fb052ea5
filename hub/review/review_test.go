package review

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"simmerline/hub/record"
	"simmerline/sensors"
)

// oneRun is a timeline of a single run from 13:00 that lasted the given seconds.
func oneRun(last float64) record.Timeline {
	return record.NewTimeline([]record.Run{{ID: 1, Wall: noon, Last: at(1, last).At}}, nil)
}

func hotBath(holds time.Duration, probes ...string) Bench {
	bath := Bath{Name: "hot", Title: "hot sulfide", Range: &Span{55, 75}, Limit: ptr(sensors.Celsius(90))}
	for _, name := range probes {
		bath.Probes = append(bath.Probes, Channel{name, holds})
	}
	return Bench{Baths: []Bath{bath}}
}

func review(t *testing.T, source Source, from, until record.Moment, bench Bench) Summary {
	t.Helper()
	s, err := Of(t.Context(), source, record.Range{From: from, Until: until}, bench)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func near(t *testing.T, what string, got *float64, want float64) {
	t.Helper()
	if got == nil || math.Abs(*got-want) > 1e-9 {
		t.Errorf("%s is %v, want %v", what, show(got), want)
	}
}

func show(f *float64) any {
	if f == nil {
		return "none"
	}
	return *f
}

// Worked by hand: 10 s at 50, 20 s at 60, 10 s at 80, then 92 for 10 s, its
// silence limit, then 10 s of nothing.
// Mean: (500 + 1200 + 800 + 920) / 50 = 68.4.
func TestBathByHand(t *testing.T) {
	source := memory{timeline: oneRun(60), readings: []record.Reading{
		celsius("hot-a", at(1, 0), 50), celsius("hot-a", at(1, 10), 60), celsius("hot-a", at(1, 20), 60),
		celsius("hot-a", at(1, 30), 80), celsius("hot-a", at(1, 40), 92),
	}}
	s := review(t, source, at(1, 0), at(1, 60), hotBath(10*time.Second, "hot-a"))
	b := s.Baths[0]
	near(t, "least", b.LeastCelsius, 50)
	near(t, "mean", b.MeanCelsius, 68.4)
	near(t, "most", b.MostCelsius, 92)
	near(t, "time in range", b.TimeInRangeSeconds, 20)
	near(t, "time over limit", b.TimeOverLimitSeconds, 10)
	near(t, "known", &b.KnownSeconds, 50)
	near(t, "no trusted value", &b.NoTrustedValueSeconds, 10)
	if b.Readings != 5 {
		t.Errorf("%d readings, want 5", b.Readings)
	}
}

// What is not good ends what held before it, and counts for nothing itself.
func TestOnlyGoodReadingsCount(t *testing.T) {
	uncertain := celsius("hot-a", at(1, 20), 85)
	uncertain.Quality, uncertain.Reason = sensors.QualityUncertain, sensors.ReasonPowerOnValue
	source := memory{timeline: oneRun(60), readings: []record.Reading{
		celsius("hot-a", at(1, 0), 60), bad("hot-a", at(1, 10), sensors.ReasonUnplugged),
		uncertain, celsius("hot-a", at(1, 30), 70), underTest(celsius("hot-a", at(1, 40), 100)),
		celsius("hot-a", at(1, 50), 62),
	}}
	b := review(t, source, at(1, 0), at(1, 60), hotBath(30*time.Second, "hot-a")).Baths[0]
	near(t, "least", b.LeastCelsius, 60)
	near(t, "mean", b.MeanCelsius, 64)
	near(t, "most", b.MostCelsius, 70)
	near(t, "known", &b.KnownSeconds, 30)
	near(t, "over limit", b.TimeOverLimitSeconds, 0)
}

// The twin reads 3 K more from 10 s to 20 s and is lost after that.
func TestHighestProbeGoverns(t *testing.T) {
	source := memory{timeline: oneRun(30), readings: []record.Reading{
		celsius("hot-a", at(1, 0), 60), celsius("hot-a", at(1, 10), 60), celsius("hot-twin", at(1, 10), 63),
		celsius("hot-a", at(1, 20), 60), bad("hot-twin", at(1, 20), sensors.ReasonSilent),
	}}
	b := review(t, source, at(1, 0), at(1, 30), hotBath(10*time.Second, "hot-a", "hot-twin")).Baths[0]
	near(t, "least", b.LeastCelsius, 60)
	near(t, "mean", b.MeanCelsius, 61)
	near(t, "most", b.MostCelsius, 63)
	near(t, "known", &b.KnownSeconds, 30)
}

// Over range has no value, is over the limit, and is no trusted value.
func TestGasByHand(t *testing.T) {
	bench := Bench{Gases: []Gas{{Channel{"h2s", 10 * time.Second}, "hydrogen sulfide", sensors.HydrogenSulfide, ptr(sensors.PPM(5))}}}
	source := memory{timeline: oneRun(40), readings: []record.Reading{
		ppm("h2s", at(1, 0), -0.2), ppm("h2s", at(1, 10), 5), bad("h2s", at(1, 20), sensors.ReasonOverRange), ppm("h2s", at(1, 25), 1),
	}}
	g := review(t, source, at(1, 0), at(1, 40), bench).Gases[0]
	near(t, "least", g.LeastPPM, -0.2) // a negative level is kept as it was measured
	near(t, "mean", g.MeanPPM, (-2+50+10)/30.0)
	near(t, "most", g.MostPPM, 5)
	near(t, "over limit", g.TimeOverLimitSeconds, 15)
	near(t, "over range", &g.TimeOverRangeSeconds, 5)
	near(t, "no trusted value", &g.NoTrustedValueSeconds, 10)
}

// Nothing holds over a restart, and what was dark is not trusted.
func TestSessionOverARestart(t *testing.T) {
	timeline := record.NewTimeline([]record.Run{
		{ID: 1, Wall: noon, Last: at(1, 100).At},
		{ID: 2, Wall: noon.Add(400 * time.Second), Last: at(2, 50).At},
	}, nil)
	source := memory{timeline: timeline, readings: []record.Reading{
		celsius("hot-a", at(1, 85), 60), celsius("hot-a", at(1, 95), 70), celsius("hot-a", at(2, 10), 65),
	}}
	s := review(t, source, at(1, 90), at(2, 20), hotBath(30*time.Second, "hot-a"))
	b := s.Baths[0]
	near(t, "watched", &s.WatchedSeconds, 30)
	near(t, "dark", &s.DarkSeconds, 300)
	near(t, "known", &b.KnownSeconds, 5+5+10)
	near(t, "least", b.LeastCelsius, 60) // held into the stretch from before it
	near(t, "no trusted value", &b.NoTrustedValueSeconds, 310)
	if len(s.Dark) != 1 || b.Readings != 2 {
		t.Errorf("dark %+v, %d readings", s.Dark, b.Readings)
	}
}

func TestNothingHeard(t *testing.T) {
	s := review(t, memory{timeline: oneRun(60)}, at(1, 0), at(1, 60), hotBath(time.Second, "hot-a"))
	if b := s.Baths[0]; b.LeastCelsius != nil || b.MeanCelsius != nil || b.MostCelsius != nil || b.NoTrustedValueSeconds != 60 {
		t.Errorf("got %+v", b)
	}
	data, err := json.Marshal(s)
	if err != nil || !strings.Contains(string(data), `"mean_celsius":null`) {
		t.Errorf("%s, %v", data, err)
	}
}

func event(second float64, alarm, from, to, cause, by string) record.Event {
	return record.Event{Moment: at(1, second), Alarm: alarm, From: from, To: to, Cause: cause, By: by, Priority: 3, Class: 3,
		Sentence: alarm + " " + cause}
}

func TestAlarms(t *testing.T) {
	source := memory{timeline: oneRun(100), events: []record.Event{
		event(1, "old", "unacknowledged", "acknowledged", "acknowledged", "the owner"),
		event(10, "hot", "normal", "unacknowledged", "raised", ""),
		event(12, "h2s", "normal", "unacknowledged", "raised", ""),
		{Moment: at(1, 13), Cause: "mark"}, // a notice
		event(20, "hot", "unacknowledged", "acknowledged", "acknowledged", "the owner"),
		event(25, "h2s", "unacknowledged", "latched_unacknowledged", "cleared", ""),
		event(30, "hot", "acknowledged", "normal", "cleared", ""),
		event(40, "h2s", "latched_unacknowledged", "unacknowledged", "raised", ""),
		event(45, "h2s", "unacknowledged", "acknowledged", "acknowledged", "a helper"),
		event(50, "hot", "normal", "unacknowledged", "raised", ""),
		event(60, "h2s", "acknowledged", "latched_acknowledged", "cleared", ""),
		event(70, "h2s", "latched_acknowledged", "normal", "reset", "the owner"),
	}}
	s := review(t, source, at(1, 0), at(1, 100), Bench{})
	type row struct {
		alarm, by                        string
		raised, cleared, acked, resetted float64
		stands                           bool
	}
	want := []row{
		{"old", "the owner", -1, -1, 1, -1, true},
		{"hot", "the owner", 10, 30, 20, -1, false},
		{"h2s", "a helper", 12, 25, 45, 70, false},
		{"h2s", "a helper", 40, 60, 45, 70, false},
		{"hot", "", 50, -1, -1, -1, true},
	}
	if len(s.Alarms) != len(want) {
		t.Fatalf("%d alarms, want %d: %+v", len(s.Alarms), len(want), s.Alarms)
	}
	second := func(p *Point) float64 {
		if p == nil {
			return -1
		}
		return p.OffsetSeconds
	}
	for i, a := range s.Alarms {
		got := row{a.Alarm, a.AcknowledgedBy, second(a.Raised), second(a.Cleared), second(a.Acknowledged), second(a.Reset), a.Stands}
		if got != want[i] {
			t.Errorf("alarm %d: %+v, want %+v", i, got, want[i])
		}
	}
}

// A session over two runs with five dark minutes between, in which something was
// lost. The bath climbs by 1 K in 100 s from 50 °C, a step each 5 s: it is at 55
// to 75 °C from 500 s until just after 2500 s, and at 90 °C or above from 4000 s
// until the run's end at 5400 s. Nothing is heard in the 900 s of the second run.
func TestSessionOverTwoRuns(t *testing.T) {
	timeline := record.NewTimeline([]record.Run{
		{ID: 1, Wall: noon, Last: at(1, 5400).At}, {ID: 2, Wall: noon.Add(5700 * time.Second), Last: at(2, 900).At},
	}, nil)
	source := memory{
		timeline: timeline,
		events: []record.Event{
			event(3480, "hot-over-line", "normal", "unacknowledged", "raised", ""),
			event(3500, "hot-over-line", "unacknowledged", "acknowledged", "acknowledged", "the owner"),
			event(3600, "hot-over-line", "acknowledged", "normal", "cleared", ""),
		},
		marks: []record.Mark{{ID: 1, Moment: at(1, 1980), Text: "added ammonia", By: "the owner"}},
		gaps:  []record.Gap{{Run: 1, From: at(1, 4000).At, Until: at(1, 4010).At, Kind: record.GapQueueFull, Readings: 70}},
	}
	for second := 0.0; second < 5400; second += 5 {
		source.readings = append(source.readings, celsius("hot-a", at(1, second), 50+second/100), ppm("h2s", at(1, second), second/1000))
	}
	bench := hotBath(10*time.Second, "hot-a")
	bench.Baths = append(bench.Baths, Bath{Name: "rinse", Title: "rinse", Probes: []Channel{{"rinse", time.Second}}})
	bench.Gases = []Gas{{Channel{"h2s", 10 * time.Second}, "hydrogen sulfide", sensors.HydrogenSulfide, ptr(sensors.PPM(5))}}
	s, err := OfSession(t.Context(), source, record.Session{
		ID: 3, Name: "thursday class", Start: at(1, 0), StartedHow: record.ByItself,
		End: at(2, 900), EndedHow: record.ByCommand, EndedBy: "the owner",
	}, bench)
	if err != nil {
		t.Fatal(err)
	}
	if s.LengthSeconds != 6600 || s.WatchedSeconds != 6300 || s.DarkSeconds != 300 || len(s.Dark) != 1 || s.Dark[0].Seconds != 300 {
		t.Errorf("length %v, watched %v, dark %v: %+v", s.LengthSeconds, s.WatchedSeconds, s.DarkSeconds, s.Dark)
	}
	hot, rinse := s.Baths[0], s.Baths[1]
	near(t, "time in range", hot.TimeInRangeSeconds, 2005)
	near(t, "time over limit", hot.TimeOverLimitSeconds, 1400)
	near(t, "no trusted value", &hot.NoTrustedValueSeconds, 1200)
	if rinse.LeastCelsius != nil || rinse.MeanCelsius != nil || rinse.MostCelsius != nil || rinse.NoTrustedValueSeconds != 6600 {
		t.Errorf("a bath that was never heard came to %+v", rinse)
	}
	if len(s.Marks) != 1 || s.Marks[0].Text != "added ammonia" || s.Marks[0].By != "the owner" || s.Marks[0].At.OffsetSeconds != 1980 {
		t.Errorf("marks %+v", s.Marks)
	}
	if len(s.Gaps) != 1 || s.Gaps[0].Readings != 70 || s.Gaps[0].Why != "queue full" || s.Gaps[0].From.OffsetSeconds != 4000 {
		t.Errorf("gaps %+v", s.Gaps)
	}
	if len(s.Alarms) != 1 || s.Alarms[0].Acknowledged == nil || s.Alarms[0].Cleared == nil {
		t.Errorf("alarms %+v", s.Alarms)
	}
}
