package record

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"os"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"simmerline/sensors"
)

// model is a record in plain slices.
type model struct {
	readings []Reading
	events   []Event
	marks    []Mark
	sessions []Session
	runs     int64
	sequence int64
}

// TestRecordIsLikeItsModel does the same things to a record and to a model, in
// any order and over several runs, and compares all that can be read.
func TestRecordIsLikeItsModel(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		dir, err := os.MkdirTemp(t.TempDir(), "")
		if err != nil {
			t.Fatal(err)
		}
		m := &model{}
		for range rapid.IntRange(1, 3).Draw(rt, "runs") {
			oneRun(t, rt, dir, m)
		}
		reader, err := OpenReader(dir)
		if err != nil {
			t.Fatal(err)
		}
		m.compare(t, rt, reader)
		if err := reader.Close(); err != nil {
			t.Fatal(err)
		}
		verified(t, dir)
		if t.Failed() {
			rt.FailNow()
		}
	})
}

func oneRun(t *testing.T, rt *rapid.T, dir string, m *model) {
	r, err := Open(dir, Options{layer: newLayer(t).name, checkpointPages: 5})
	if err != nil {
		t.Fatal(err)
	}
	defer closeRecord(t, r)
	run, previous := begin(t, r)
	m.runs++
	if run.ID != m.runs || previous.LastSequence != m.sequence {
		rt.Fatalf("run %d after event %d, want run %d after event %d", run.ID, previous.LastSequence, m.runs, m.sequence)
	}
	at := time.Duration(0)
	for range rapid.IntRange(0, 30).Draw(rt, "steps") {
		at += time.Duration(rapid.IntRange(0, 3).Draw(rt, "later")) // often not at all
		now := Moment{run.ID, at}
		switch rapid.IntRange(0, 4).Draw(rt, "what") {
		case 0, 1:
			reading := drawReading(rt, run.ID, at)
			r.AddReadings([]Reading{reading})
			m.readings = append(m.readings, reading)
		case 2:
			m.sequence++
			event := Event{Sequence: m.sequence, Moment: now, Alarm: "soda-silent", Number: 61.5, Priority: 2, Why: "naïve"}
			if err := r.AddEvent(event, nil, nil); err != nil {
				t.Fatal(err)
			}
			m.events = append(m.events, event)
		case 3:
			mark := Mark{Moment: now, Text: fmt.Sprint("mark ", at)}
			if last := len(m.sessions) - 1; last >= 0 && m.sessions[last].Open() {
				mark.Session = m.sessions[last].ID
			}
			if mark.ID, err = r.AddMark(mark, nil, nil); err != nil {
				t.Fatal(err)
			}
			m.marks = append(m.marks, mark)
		case 4:
			if last := len(m.sessions) - 1; last >= 0 && m.sessions[last].Open() {
				s := &m.sessions[last]
				s.End, s.EndedHow, s.EndedBy = now, ByCommand, "the owner"
				if err := r.Add(nil, nil, &SessionEnd{s.ID, now, ByCommand, "the owner"}); err != nil {
					t.Fatal(err)
				}
				continue
			}
			s := Session{Name: "class", Start: now, StartedHow: ByItself, Kept: true}
			if s.ID, err = r.StartSession(s, nil, nil); err != nil {
				t.Fatal(err)
			}
			m.sessions = append(m.sessions, s)
		}
	}
}

func drawReading(rt *rapid.T, run int64, at time.Duration) Reading {
	channel := rapid.SampledFrom([]string{"hot-a", "cool", "fume-h2s"}).Draw(rt, "channel")
	r := Reading{Run: run, Test: rapid.Bool().Draw(rt, "test"), Reading: sensors.Reading{Channel: channel, At: at}}
	r.Quality = rapid.SampledFrom(sensors.Qualities).Draw(rt, "quality")
	r.Raw = rapid.SampledFrom([]float64{math.NaN(), -1, 0, 684, math.Inf(1)}).Draw(rt, "raw")
	if r.Quality == sensors.QualityGood || r.Quality == sensors.QualityUncertain {
		r.Value = sensors.MustValue(sensors.Temperature, rapid.Float64Range(-40, 1200).Draw(rt, "value"))
	}
	if r.Quality != sensors.QualityGood {
		r.Reason = rapid.SampledFrom(sensors.Reasons).Draw(rt, "reason")
	}
	return r
}

func (m *model) compare(t *testing.T, rt *rapid.T, r *Reader) {
	ctx := context.Background()
	within := Range{drawMoment(rt, "from"), drawMoment(rt, "until")}
	inside := func(at Moment) bool { return at.Compare(within.From) >= 0 && at.Compare(within.Until) < 0 }
	channel := rapid.SampledFrom([]string{"", "cool"}).Draw(rt, "only")
	var only []string
	if channel != "" {
		only = []string{channel}
	}

	want := slices.DeleteFunc(slices.Clone(m.readings), func(r Reading) bool {
		return !inside(r.Moment()) || channel != "" && r.Channel != channel
	})
	// Within one moment the channels come in the order of their first reading.
	first := map[string]int{}
	for i := len(m.readings) - 1; i >= 0; i-- {
		first[m.readings[i].Channel] = i
	}
	slices.SortStableFunc(want, func(a, b Reading) int {
		return cmp.Or(a.Moment().Compare(b.Moment()), cmp.Compare(first[a.Channel], first[b.Channel]))
	})
	var got []Reading
	for reading, err := range r.Readings(ctx, within, only...) {
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, reading)
	}
	if !slices.EqualFunc(got, want, same) {
		rt.Fatalf("readings of %v:\n got %+v\nwant %+v", within, got, want)
	}

	events := []Event{}
	for event, err := range r.Events(ctx, within) {
		if err != nil {
			t.Fatal(err)
		}
		events = append(events, event)
	}
	if want := slices.DeleteFunc(slices.Clone(m.events), func(e Event) bool { return !inside(e.Moment) }); !slices.Equal(events, want) {
		rt.Fatalf("events %+v, want %+v", events, want)
	}

	marks, err := r.Marks(ctx, within)
	if err != nil {
		t.Fatal(err)
	}
	if want := slices.DeleteFunc(slices.Clone(m.marks), func(k Mark) bool { return !inside(k.Moment) }); !slices.Equal(marks, want) {
		rt.Fatalf("marks %+v, want %+v", marks, want)
	}

	sessions, err := r.Sessions(ctx)
	if err != nil {
		t.Fatal(err)
	}
	slices.Reverse(sessions)
	if !slices.Equal(sessions, m.sessions) {
		rt.Fatalf("sessions %+v, want %+v", sessions, m.sessions)
	}
}

func drawMoment(rt *rapid.T, name string) Moment {
	return Moment{int64(rapid.IntRange(0, 4).Draw(rt, name+" run")), time.Duration(rapid.IntRange(0, 60).Draw(rt, name+" at"))}
}

// TestPagesJoin reads more rows than one page holds.
func TestPagesJoin(t *testing.T) {
	r := open(t, t.TempDir(), Options{})
	begin(t, r)
	const count = 2*pageRows + 7
	readings := make([]Reading, count)
	for i := range readings {
		readings[i] = temperature("hot-a", time.Duration(i/3+1), float64(i))
	}
	r.AddReadings(readings)
	for sequence := int64(1); sequence <= count; sequence++ {
		if err := r.AddEvent(Event{Sequence: sequence, Moment: Moment{At: count}}, nil, nil); err != nil {
			t.Fatal(err)
		}
	}
	done := newAnswers()
	if _, err := r.AddMark(Mark{Moment: Moment{At: count}}, done.as("written"), nil); err != nil {
		t.Fatal(err)
	}
	done.wait(t, 1)
	next := 0
	for reading, err := range r.Readings(t.Context(), After(Moment{})) {
		if err != nil || reading.Value.Number() != float64(next) {
			t.Fatalf("reading %d is %+v, %v", next, reading, err)
		}
		next++
	}
	sequence := int64(0)
	for event, err := range r.EventsAfter(t.Context(), 0) {
		if sequence++; err != nil || event.Sequence != sequence {
			t.Fatalf("event %d is %+v, %v", sequence, event, err)
		}
	}
	if next != count || sequence != count {
		t.Errorf("%d readings and %d events, want %d", next, sequence, count)
	}
}

// BenchmarkReadings tells how many readings a second go into the record, in
// batches as a large bench makes them.
func BenchmarkReadings(b *testing.B) {
	r := open(b, b.TempDir(), Options{QueueReadings: math.MaxInt})
	begin(b, r)
	const batch = 50
	readings := make([]Reading, batch)
	at := time.Duration(0)
	written := make(chan struct{})
	for b.Loop() {
		for i := range readings {
			at += 20 * time.Millisecond
			readings[i] = temperature([]string{"hot-a", "hot-b", "cool", "soda", "rinse"}[i%5], at, 60)
		}
		r.AddReadings(readings)
		if at%(50*time.Second) == 0 { // fifty batches to a commit
			if err := r.Add(func(error) { written <- struct{}{} }, nil, &State{Moment{At: at}, []byte("{}")}); err != nil {
				b.Fatal(err)
			}
			<-written
		}
	}
	b.ReportMetric(float64(batch)*float64(b.N)/b.Elapsed().Seconds(), "readings/s")
}
