package record

import (
	"context"
	"fmt"
	"math"
	"strings"
	"sync"
	"testing"
	"time"

	"simmerline/sensors"
)

// open opens a record and, at the end of the test, closes and verifies it.
func open(t testing.TB, dir string, options Options) *Record {
	t.Helper()
	r, err := Open(dir, options)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		closeRecord(t, r)
		verified(t, dir)
	})
	return r
}

func closeRecord(t testing.TB, r *Record) {
	t.Helper()
	if err := r.Close(context.Background()); err != nil {
		t.Error(err)
	}
}

func verified(t testing.TB, dir string) {
	t.Helper()
	report, err := Verify(context.Background(), dir)
	if err != nil {
		t.Error(err)
	}
	if !report.Well() {
		t.Errorf("verify: %v", report.Faults)
	}
}

var noon = time.Date(2026, 3, 5, 13, 0, 0, 0, time.UTC)

const bench = "site: Pennywhistle Yard\n"

func begin(t testing.TB, r *Record) (Run, Previous) {
	t.Helper()
	run, previous, err := r.Begin(RunInfo{Wall: noon, BenchText: bench, Software: "test"})
	if err != nil {
		t.Fatal(err)
	}
	return run, previous
}

func temperature(channel string, at time.Duration, celsius float64) Reading {
	return Reading{Reading: sensors.Reading{
		Channel: channel, At: at, Raw: celsius * 10, Quality: sensors.QualityGood,
		Value: sensors.MustValue(sensors.Temperature, celsius),
	}}
}

// answers collects the calls back of entries.
type answers struct {
	mu     sync.Mutex
	all    []string
	signal chan struct{}
}

func newAnswers() *answers { return &answers{signal: make(chan struct{}, 1000)} }

func (a *answers) as(word string) func(error) {
	return func(err error) {
		a.mu.Lock()
		if err != nil {
			word += " failed"
		}
		a.all = append(a.all, word)
		a.mu.Unlock()
		a.signal <- struct{}{}
	}
}

func (a *answers) wait(t testing.TB, count int) []string {
	t.Helper()
	for {
		a.mu.Lock()
		all := append([]string(nil), a.all...)
		a.mu.Unlock()
		if len(all) >= count {
			return all
		}
		select {
		case <-a.signal:
		case <-time.After(20 * time.Second):
			t.Fatalf("only %v after 20 s, not %d answers", all, count)
		}
	}
}

func TestReadingsComeBackAsTheyWent(t *testing.T) {
	r := open(t, t.TempDir(), Options{})
	run, _ := begin(t, r)
	nan := sensors.Reading{Channel: "soda", At: 3, Raw: math.NaN(), Quality: sensors.QualityBad, Reason: sensors.ReasonSilent}
	contact := sensors.Reading{Channel: "airflow", At: 2, Raw: 1, Quality: sensors.QualityGood, Value: sensors.MustValue(sensors.Contact, 1)}
	sent := []Reading{
		temperature("hot-a", 1, 68.4), temperature("hot-a", 1, 68.5), // one channel, one offset
		{Reading: contact}, {Reading: nan, Test: true},
	}
	if !r.AddReadings(sent) {
		t.Fatal("refused")
	}
	done := newAnswers()
	if err := r.AddEvent(Event{Sequence: 1, Moment: Moment{At: 4}, Alarm: "hot-over-line", Number: math.NaN()}, done.as("written"), nil); err != nil {
		t.Fatal(err)
	}
	done.wait(t, 1)
	var got []Reading
	for reading, err := range r.Readings(t.Context(), After(Moment{})) {
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, reading)
	}
	if len(got) != len(sent) {
		t.Fatalf("got %d readings, want %d", len(got), len(sent))
	}
	for i := range sent {
		sent[i].Run = run.ID
		if !same(got[i], sent[i]) {
			t.Errorf("got %+v, want %+v", got[i], sent[i])
		}
	}
	for reading, err := range r.Readings(t.Context(), Range{Moment{run.ID, 2}, Moment{run.ID, 3}}, "airflow", "soda") {
		if err != nil || reading.Channel != "airflow" {
			t.Errorf("got %+v, %v, want only the airflow", reading, err)
		}
	}
}

func same(a, b Reading) bool {
	if math.IsNaN(a.Raw) && math.IsNaN(b.Raw) {
		a.Raw, b.Raw = 0, 0
	}
	return a == b
}

func TestWrittenComesBeforeSynced(t *testing.T) {
	r := open(t, t.TempDir(), Options{})
	begin(t, r)
	done := newAnswers()
	for i := range int64(3) {
		if err := r.AddEvent(Event{Sequence: i + 1, Alarm: "fume-h2s"}, done.as(fmt.Sprint("written ", i)), done.as(fmt.Sprint("synced ", i))); err != nil {
			t.Fatal(err)
		}
	}
	all := strings.Join(done.wait(t, 6), ",")
	for i := range 3 {
		if strings.Index(all, fmt.Sprint("written ", i)) > strings.Index(all, fmt.Sprint("synced ", i)) {
			t.Errorf("event %d was synced before it was written: %s", i, all)
		}
	}
}

func TestSecondHubIsRefused(t *testing.T) {
	dir := t.TempDir()
	open(t, dir, Options{})
	if _, err := Open(dir, Options{}); err == nil || !strings.Contains(err.Error(), ErrInUse.Error()) {
		t.Errorf("got %v, want %v", err, ErrInUse)
	}
}

func TestNextRunKnowsWhatWasBefore(t *testing.T) {
	dir := t.TempDir()
	r := open(t, dir, Options{})
	run, previous := begin(t, r)
	if previous.Run.ID != 0 || run.ID != 1 {
		t.Fatalf("a new record knows of %+v and gives run %d", previous, run.ID)
	}
	id, err := r.StartSession(Session{Name: "thursday class", Start: Moment{run.ID, 5}, StartedHow: ByItself}, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.AddMark(Mark{Session: id, Moment: Moment{At: 6}, Text: "added ammonia"}, nil, nil); err != nil {
		t.Fatal(err)
	}
	if err := r.Add(nil, nil, &Event{Sequence: 1, Moment: Moment{At: 7}}, &State{Moment{At: 7}, []byte(`{"alarms":1}`)}); err != nil {
		t.Fatal(err)
	}
	if err := r.Add(nil, nil, &ClockNote{Moment{At: 8}, ClockStepped, noon.Add(time.Hour), "set by the network"}); err != nil {
		t.Fatal(err)
	}
	r.Alive(20)
	closeRecord(t, r)

	r = open(t, dir, Options{})
	run, previous = begin(t, r)
	if run.ID != 2 || previous.Run.ID != 1 || previous.Run.Clean || previous.Run.Last != 20 || previous.LastSequence != 1 {
		t.Errorf("got run %+v after %+v", run, previous)
	}
	if want := noon.Add(time.Hour + 12); !previous.LastWall.Equal(want) {
		t.Errorf("last written at %v, want %v", previous.LastWall, want)
	}
	if s := previous.OpenSession; s == nil || s.ID != id || s.Name != "thursday class" {
		t.Errorf("open session %+v", s)
	}
	if s := previous.State; s == nil || string(s.JSON) != `{"alarms":1}` || s.At != 7 {
		t.Errorf("state %+v", s)
	}
	if err := r.Add(nil, nil, &SessionEnd{id, Moment{1, 20}, ByPowerLoss, ""}); err != nil {
		t.Fatal(err)
	}
	if err := r.EndRun(9); err != nil {
		t.Fatal(err)
	}
	closeRecord(t, r)

	reader, err := OpenReader(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer reader.Close()
	for _, word := range []string{"latest", "1", "thursday class"} {
		s, err := reader.FindSession(t.Context(), word)
		if err != nil || s.ID != id || s.EndedHow != ByPowerLoss || s.End != (Moment{1, 20}) {
			t.Errorf("%s: %+v, %v", word, s, err)
		}
	}
	if _, err := reader.FindSession(t.Context(), "friday"); err == nil || !strings.Contains(err.Error(), ErrNotFound.Error()) {
		t.Errorf("got %v, want %v", err, ErrNotFound)
	}
	marks, err := reader.Marks(t.Context(), After(Moment{}))
	if err != nil || len(marks) != 1 || marks[0].Text != "added ammonia" {
		t.Errorf("marks %+v, %v", marks, err)
	}
	text, err := reader.BenchText(t.Context(), 2)
	if err != nil || text != bench {
		t.Errorf("bench text %q, %v", text, err)
	}
	if runs, err := reader.Runs(t.Context()); err != nil || len(runs) != 2 || !runs[1].Clean || runs[0].Bench != runs[1].Bench {
		t.Errorf("runs %+v, %v", runs, err)
	}
}

func TestRefusedEntryHoldsNothingUp(t *testing.T) {
	r := open(t, t.TempDir(), Options{})
	begin(t, r)
	done := newAnswers()
	if err := r.Add(done.as("end"), done.as("end synced"), &SessionEnd{ID: 99, How: ByCommand}); err != nil {
		t.Fatal(err)
	}
	if err := r.AddEvent(Event{Sequence: 1}, nil, done.as("event")); err != nil {
		t.Fatal(err)
	}
	if err := r.AddEvent(Event{Sequence: 1}, done.as("twice"), nil); err != nil {
		t.Fatal(err)
	}
	all := strings.Join(done.wait(t, 4), ",")
	for _, want := range []string{"end failed", "end synced failed", "twice failed", "event"} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not among %s", want, all)
		}
	}
	if h := r.Health(); h.Failing || h.Refused != 2 {
		t.Errorf("health %+v", h)
	}
}
