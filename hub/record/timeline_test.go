package record

import (
	"testing"
	"time"
)

// Two runs: the first from 13:00 with the clock set two hours ahead after a
// minute and a sleep of ten minutes after two, last heard of after three; the
// second from 15:20.
func twoRuns() Timeline {
	return NewTimeline(
		[]Run{
			{ID: 2, Wall: noon.Add(140 * time.Minute), Last: 5 * time.Minute},
			{ID: 1, Wall: noon, Last: 3 * time.Minute},
		},
		[]ClockNote{
			{Moment{1, 2 * time.Minute}, ClockSlept, noon.Add(132 * time.Minute), ""},
			{Moment{1, time.Minute}, ClockStepped, noon.Add(121 * time.Minute), ""},
		})
}

func TestWall(t *testing.T) {
	timeline := twoRuns()
	for _, row := range []struct {
		at   Moment
		want time.Duration // after 13:00
	}{
		{Moment{1, 0}, 0},
		{Moment{1, 59 * time.Second}, 59 * time.Second},
		{Moment{1, time.Minute}, 121 * time.Minute},
		{Moment{1, 119 * time.Second}, 121*time.Minute + 59*time.Second},
		{Moment{1, 3 * time.Minute}, 133 * time.Minute},
		{Moment{2, 4 * time.Minute}, 144 * time.Minute},
	} {
		if got, ok := timeline.Wall(row.at); !ok || got.Sub(noon) != row.want {
			t.Errorf("%v: %v after 13:00, want %v", row.at, got.Sub(noon), row.want)
		}
	}
	if _, ok := timeline.Wall(Moment{3, 0}); ok {
		t.Error("a run that was never is known")
	}
}

func TestDark(t *testing.T) {
	dark := twoRuns().Dark(After(Moment{}))
	want := []Dark{
		{Moment{1, 2 * time.Minute}, Moment{1, 2 * time.Minute}, 10 * time.Minute, true},
		{Moment{1, 3 * time.Minute}, Moment{2, 0}, 7 * time.Minute, false},
	}
	if len(dark) != 2 || dark[0] != want[0] || dark[1] != want[1] {
		t.Errorf("got %+v, want %+v", dark, want)
	}
	if dark := twoRuns().Dark(Range{Moment{2, 0}, Moment{2, 9}}); len(dark) != 0 {
		t.Errorf("dark %+v before the range", dark)
	}
}

func TestBack(t *testing.T) {
	timeline := twoRuns()
	from := Moment{2, 5 * time.Minute}
	for _, row := range []struct {
		by   time.Duration
		want Moment
	}{
		{0, from},
		{5 * time.Minute, Moment{2, 0}},
		{11 * time.Minute, Moment{2, 0}}, // in the dark
		{13 * time.Minute, Moment{1, 2 * time.Minute}},
		{time.Hour, Moment{1, 0}},
	} {
		if got := timeline.Back(from, row.by); got != row.want {
			t.Errorf("%v before: %v, want %v", row.by, got, row.want)
		}
	}
	if got, want := timeline.Last(time.Minute), (Range{Moment{2, 4*time.Minute + 1}, Moment{2, 5*time.Minute + 1}}); got != want {
		t.Errorf("last minute %v, want %v", got, want)
	}
	if got := timeline.Watched(After(Moment{})); got != 8*time.Minute {
		t.Errorf("watched %v, want 8 min", got)
	}
	if got := timeline.Watched(Range{Moment{1, time.Minute}, Moment{2, time.Minute}}); got != 3*time.Minute {
		t.Errorf("watched %v, want 3 min", got)
	}
}

// A clock that ran on while no hub did: the second run is first heard of six
// minutes after its offset 0, by which time the first was dark for four.
func TestRunThatBeginsLate(t *testing.T) {
	timeline := NewTimeline([]Run{
		{ID: 1, Wall: noon, Last: 2 * time.Minute},
		{ID: 2, Wall: noon, First: 6 * time.Minute, Last: 9 * time.Minute},
	}, nil)
	dark := timeline.Dark(After(Moment{}))
	want := Dark{Moment{1, 2 * time.Minute}, Moment{2, 6 * time.Minute}, 4 * time.Minute, false}
	if len(dark) != 1 || dark[0] != want {
		t.Errorf("got %+v, want %+v", dark, want)
	}
	if got := timeline.Watched(After(Moment{})); got != 5*time.Minute {
		t.Errorf("watched %v, want 5 min", got)
	}
	from := Moment{2, 8 * time.Minute}
	for by, want := range map[time.Duration]Moment{
		2 * time.Minute: {2, 6 * time.Minute}, 5 * time.Minute: {2, 6 * time.Minute},
		7 * time.Minute: {1, time.Minute}, time.Hour: {1, 0},
	} {
		if got := timeline.Back(from, by); got != want {
			t.Errorf("%v before: %v, want %v", by, got, want)
		}
	}
}

// The first thing written in a run is read back, whether an event or a reading.
func TestFirstOfARun(t *testing.T) {
	for _, row := range []struct {
		event, reading time.Duration
	}{{7 * time.Second, 9 * time.Second}, {9 * time.Second, 7 * time.Second}} {
		r := open(t, t.TempDir(), Options{})
		begin(t, r)
		said := newAnswers()
		r.AddReadings([]Reading{temperature("hot", row.reading, 60)})
		if err := r.AddEvent(Event{Sequence: 1, Moment: Moment{At: row.event}}, said.as("written"), nil); err != nil {
			t.Fatal(err)
		}
		said.wait(t, 1)
		runs, err := r.Runs(t.Context())
		if err != nil || len(runs) != 1 || runs[0].First != 7*time.Second {
			t.Errorf("event at %v, reading at %v: got %+v, %v, want the first at 7 s", row.event, row.reading, runs, err)
		}
	}
}
