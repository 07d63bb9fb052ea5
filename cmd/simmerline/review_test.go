package main

import (
	"context"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"simmerline/hub"
	"simmerline/hub/record"
	"simmerline/hub/review"
	"simmerline/rules"
	"simmerline/sensors"
)

var update = flag.Bool("update", false, "rewrite the expected reviews; commit only a difference you can explain")

// written is a record that a test writes by hand.
type written struct {
	t        *testing.T
	dir      string
	rec      *record.Record
	run      int64
	sequence int64
}

// begin opens the record for a run that begins at a time of day.
func (w *written) begin(clock, bench string) {
	w.t.Helper()
	rec, err := record.Open(w.dir, record.Options{})
	if err != nil {
		w.t.Fatal(err)
	}
	wall, err := time.Parse(time.DateTime, "2026-03-05 "+clock)
	if err != nil {
		w.t.Fatal(err)
	}
	run, _, err := rec.Begin(record.RunInfo{Wall: wall, BenchText: bench, Software: "test"})
	if err != nil {
		w.t.Fatal(err)
	}
	w.rec, w.run = rec, run.ID
}

// close ends a run; with a clean end unless the power went.
func (w *written) close(clean bool, at int) {
	w.t.Helper()
	if clean {
		w.must(w.rec.EndRun(seconds(at)))
	}
	w.must(w.rec.Close(context.Background()))
}

func (w *written) must(err error) {
	w.t.Helper()
	if err != nil {
		w.t.Fatal(err)
	}
}

func seconds(n int) time.Duration { return time.Duration(n) * time.Second }

func (w *written) at(second int) record.Moment { return record.Moment{Run: w.run, At: seconds(second)} }

// read keeps a reading of a channel each second, from one second to before another.
func (w *written) read(channel string, from, until int, value float64) {
	w.t.Helper()
	var c sensors.Channel
	for _, p := range parsed(w.t, quietBench).Ports {
		for _, one := range p.Channels() {
			if one.Name == channel {
				c = one
			}
		}
	}
	var rows []record.Reading
	for s := from; s < until; s++ {
		rows = append(rows, record.Reading{Reading: c.Convert(seconds(s), value)})
	}
	if !w.rec.AddReadings(rows) {
		w.t.Fatal("the record did not take the readings")
	}
}

// event keeps a step in the life of an alarm.
func (w *written) event(second int, alarm string, from, to rules.State, cause rules.Cause, sentence, by, why string) {
	w.t.Helper()
	w.sequence++
	e := record.Event{
		Sequence: w.sequence, Moment: w.at(second), Alarm: alarm, From: from.String(), To: to.String(), Cause: cause.String(),
		Priority: int(rules.Danger), Class: int(rules.BathDanger), Subject: "hot sulfide", Sentence: sentence, By: by, Why: why,
	}
	if alarm == "fume-h2s-danger" {
		e.Class, e.Subject = int(rules.FumeDanger), "hydrogen sulfide at the fume head"
	}
	w.must(w.rec.AddEvent(e, nil, nil))
}

// notice keeps what a hub tells that is no alarm.
func (w *written) notice(second int, kind, text string) {
	w.t.Helper()
	w.sequence++
	w.must(w.rec.AddEvent(record.Event{Sequence: w.sequence, Moment: w.at(second), Cause: kind, Sentence: text}, nil, nil))
}

// wholeAfternoon is one run of half an hour with one session over all of it.
//
// Bath: 60 °C for 600 s, 80 for 300 s, 95 for 100 s and 10 s more until it
// counts as silent, nothing for 190 s, 70 for 600 s. So it is known for 1610 s
// less the second at the very end that no later reading bounds: its last
// reading, at 1799 s, holds to the end. Mean: (36000 + 24000 + 95 × 109.0 +
// 42000) / 1609, as the 10 s run from the last reading at 999 s.
// Gas: 0.2 ppm, but 6 ppm for 30 s, then over range for 10 s.
// Mean: (0.2 × 1760 + 6 × 30) / 1790 = 0.30.
func wholeAfternoon(w *written) {
	w.begin("13:00:00", quietBench)
	_, err := w.rec.StartSession(record.Session{Name: "blue ring", Start: w.at(0), StartedHow: record.ByItself}, nil, nil)
	w.must(err)
	w.notice(0, "session started", "Session \"blue ring\" began.")
	w.read("hot", 0, 600, 60)
	w.read("hot", 600, 900, 80)
	w.read("hot", 900, 1000, 95)
	w.read("hot", 1200, 1800, 70)
	w.read("h2s", 0, 900, 0.2)
	w.read("h2s", 900, 930, 6)
	w.read("h2s", 930, 940, 101)
	w.read("h2s", 940, 1800, 0.2)
	w.notice(300, "in range", "Hot sulfide is in its working range, at 60.0 °C.")
	_, err = w.rec.AddMark(record.Mark{Session: 1, Moment: w.at(605), Text: "added ammonia", By: "Ilo"}, nil, nil)
	w.must(err)
	const line, fume = "hot-sulfide-danger", "fume-h2s-danger"
	w.event(905, line, rules.Normal, rules.Unacknowledged, rules.CauseRaised, "Hot sulfide 95.0 °C, over its line. Turn the hot plate down now.", "", "")
	w.event(906, fume, rules.Normal, rules.Unacknowledged, rules.CauseRaised, "Hydrogen sulfide at the fume head 6.0 ppm, over its danger level. Leave now.", "", "")
	w.event(960, line, rules.Unacknowledged, rules.Acknowledged, rules.CauseAcknowledged, "", "Maren", "")
	w.event(965, fume, rules.Unacknowledged, rules.Acknowledged, rules.CauseAcknowledged, "", "Maren", "from outside")
	w.event(1060, fume, rules.Acknowledged, rules.LatchedAcknowledged, rules.CauseCleared, "", "", "")
	w.event(1210, line, rules.Acknowledged, rules.Normal, rules.CauseCleared, "", "", "")
	w.event(1500, fume, rules.LatchedAcknowledged, rules.Normal, rules.CauseReset, "", "Maren", "aired")
	w.must(w.rec.Add(nil, nil, &record.SessionEnd{ID: 1, End: w.at(1800), How: record.ByCommand, By: "Maren"}))
	w.close(true, 1800)
}

// powerCut is an open session over two runs with five dark minutes between, and
// a fume alarm that still stands.
//
// Bath: 60 °C for 599 s of the first run (its last reading is the last thing
// written there), 40 for 300 s of the second: 899 s known, 300 s dark.
// Mean: (60 × 599 + 40 × 299) / 898, as the last second of each run has no end.
func powerCut(w *written) {
	w.begin("13:00:00", quietBench)
	_, err := w.rec.StartSession(record.Session{Name: "leaves", Start: w.at(0), StartedHow: record.ByCommand, StartedBy: "Ilo"}, nil, nil)
	w.must(err)
	w.read("hot", 0, 600, 60)
	w.close(false, 0)
	w.begin("13:14:59", quietBench)
	w.read("hot", 0, 300, 40)
	w.event(120, "fume-h2s-danger", rules.Normal, rules.Unacknowledged, rules.CauseRaised,
		"Hydrogen sulfide at the fume head 6.0 ppm, over its danger level. Leave now.", "", "")
	w.close(true, 299)
}

func TestReviewText(t *testing.T) {
	for name, write := range map[string]func(*written){"whole-afternoon": wholeAfternoon, "power-cut": powerCut} {
		t.Run(name, func(t *testing.T) {
			inUTC(t)
			w := &written{t: t, dir: t.TempDir()}
			write(w)
			code, out, said := try("review", "latest", "--data", w.dir)
			if code != exitWell || said != "" {
				t.Fatalf("code %d, said %q", code, said)
			}
			golden := filepath.Join("..", "..", "testdata", "review", name+".txt")
			if *update {
				if err := os.WriteFile(golden, []byte(out), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if out != string(want) {
				t.Errorf("got\n%s\nwant\n%s", out, want)
			}
			if regexp.MustCompile(`(?i)\b(safe|all well)\b`).MatchString(out) {
				t.Error("the text says that something is safe, or all well")
			}
			if code, out, said := try("record", "verify", "--data", w.dir); code != exitWell {
				t.Errorf("the record that the test wrote is not well: %s %s", out, said)
			}
		})
	}
}

// What neither of the written records has.
func TestReviewTextOfTheRest(t *testing.T) {
	inUTC(t)
	at := func(day, hour int) review.Point {
		return review.Point{Run: 1, Wall: time.Date(2026, 3, day, hour, 0, 0, 0, time.UTC)}
	}
	level := -0.001
	line, mean := 90.0, 68.44
	back := hub.LookBack{Bench: "Pennywhistle Yard", BenchChanged: true, Fahrenheit: true, Summary: review.Summary{
		Session: &review.Session{ID: 3, Name: "night", StartedHow: "by itself", EndedHow: "by power loss"},
		From:    at(5, 23), Until: at(6, 1), LengthSeconds: 7200,
		Baths: []review.Bathed{{Bath: "rinse", Title: "rinse", MeanCelsius: &mean, LimitCelsius: &line}},
		Gases: []review.Gassed{{Channel: "fume-x", Title: "fume-x", Gas: "other", MeanPPM: &level}},
		Alarms: []review.Alarm{
			{Alarm: "old", Priority: "warning", Class: "everything else", Sentence: "Something: lost. Do this.", Stands: true},
			{Alarm: "quiet", Priority: "caution", Class: "everything else", Sentence: "Something: cold.", Stands: true, Cleared: ptr(at(6, 0))},
		},
		Dark: []review.Dark{{From: at(5, 23), Until: at(6, 0), Seconds: 3600, Slept: true}},
		Gaps: []review.Gap{{From: at(6, 0), Until: at(6, 0), Why: "queue full", Readings: 1, Events: 2}},
	}}
	out := reviewText(back)
	for _, want := range []string{
		"2026-03-05 23:00:00 to 2026-03-06 01:00:00, 2 h. It began by itself, as a bath warmed; it ended when the hub went off.",
		"The bench file was changed meanwhile", "Baths, °F", "155.2", "194.0", "fume-x      -  0.00", // 68.44 °C is 155.19 °F
		"before  till the end              warning   old    Something: lost\n            not acknowledged since the session began\n",
		"before  till 2026-03-06 00:00:00  caution   quiet  Something: cold\n            still standing at the end\n",
		"23:00:00 to 2026-03-06 00:00:00  the hub's machine slept for 1 h", "1 reading and 2 events were lost: queue full",
		"A spent sulfide bath is never neutralised with acid",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is missing from\n%s", want, out)
		}
	}
	back.Alarms = nil
	if out := reviewText(back); !strings.Contains(out, "\nNo alarm was raised.\n") {
		t.Errorf("no alarm: got\n%s", out)
	}
}

func ptr[T any](v T) *T { return &v }

// inUTC has people live in UTC for one test.
func inUTC(t *testing.T) {
	was := time.Local
	time.Local = time.UTC
	t.Cleanup(func() { time.Local = was })
}

// The figures of wholeAfternoon, as worked out there.
func TestReviewJSON(t *testing.T) {
	w := &written{t: t, dir: t.TempDir()}
	wholeAfternoon(w)
	code, out, said := try("review", "blue ring", "--data", w.dir, "--json")
	var got struct {
		Bench   string  `json:"bench"`
		Length  float64 `json:"length_seconds"`
		Session struct {
			ID       int64  `json:"id"`
			EndedHow string `json:"ended_how"`
		} `json:"session"`
		Baths  []map[string]any `json:"baths"`
		Gases  []map[string]any `json:"gases"`
		Alarms []map[string]any `json:"alarms"`
		Marks  []map[string]any `json:"marks"`
		Dark   []any            `json:"dark"`
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil || code != exitWell {
		t.Fatalf("code %d, %v, said %q: %s", code, err, said, out)
	}
	if got.Bench != "Pennywhistle Yard" || got.Session.ID != 1 || got.Session.EndedHow != "by command" || got.Length != 1800 {
		t.Errorf("got %+v", got)
	}
	if len(got.Baths) != 1 || len(got.Gases) != 1 || len(got.Alarms) != 2 || len(got.Marks) != 1 || got.Dark == nil {
		t.Fatalf("got %+v", got)
	}
	const few = 1e-6
	for name, want := range map[string]float64{
		"least_celsius": 60, "most_celsius": 95, "mean_celsius": (60*600 + 80*300 + 95*109 + 70*600) / 1609.0,
		"range_low_celsius": 55, "range_high_celsius": 75, "time_in_range_seconds": 1200,
		"limit_celsius": 90, "time_over_limit_seconds": 109, "known_seconds": 1609, "no_trusted_value_seconds": 191, "good_readings": 1600,
	} {
		if value, is := got.Baths[0][name].(float64); !is || value < want-few || value > want+few {
			t.Errorf("bath: %s is %v, want %v", name, got.Baths[0][name], want)
		}
	}
	for name, want := range map[string]float64{
		"least_ppm": 0.2, "most_ppm": 6, "mean_ppm": (0.2*1760 + 6*30) / 1790.0, "limit_ppm": 5,
		"time_over_limit_seconds": 40, "time_over_range_seconds": 10, "known_seconds": 1790, "no_trusted_value_seconds": 10, "good_readings": 1790,
	} {
		if value, is := got.Gases[0][name].(float64); !is || value < want-few || value > want+few {
			t.Errorf("gas: %s is %v, want %v", name, got.Gases[0][name], want)
		}
	}
}

// A hub's notices lie among the alarms in the record, and are none.
func TestNoticesAreNoAlarms(t *testing.T) {
	w := &written{t: t, dir: t.TempDir()}
	w.begin("13:00:00", quietBench)
	_, err := w.rec.StartSession(record.Session{Name: "quiet", Start: w.at(0), StartedHow: record.ByItself}, nil, nil)
	w.must(err)
	for i, kind := range []string{"hub started", "session started", "mark", "in range", "put away", "gap"} {
		w.notice(i, kind, "A notice.")
	}
	w.close(true, 10)
	_, out, _ := try("review", "latest", "--data", w.dir, "--json")
	var got struct{ Alarms []any }
	if err := json.Unmarshal([]byte(out), &got); err != nil || got.Alarms == nil || len(got.Alarms) != 0 {
		t.Errorf("%v: got %v alarms, want none: %s", err, got.Alarms, out)
	}
}

func TestReviewRefuses(t *testing.T) {
	w := &written{t: t, dir: t.TempDir()}
	wholeAfternoon(w)
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"review", "red ring", "--data", w.dir}, exitNotWell, `session "red ring": not in the record`},
		{[]string{"review", "1", "--data", t.TempDir()}, exitNotWell, "no record in"},
		{[]string{"review", "1", "--data", w.dir, "--hub", "127.0.0.1:1"}, exitWrongUse, "can't be used together"},
		{[]string{"review"}, exitWrongUse, "<session>"},
	} {
		if code, out, said := try(c.args...); code != c.code || out != "" || !strings.Contains(said, c.says) {
			t.Errorf("%v: code %d, out %q, said %q", c.args, code, out, said)
		}
	}
}
