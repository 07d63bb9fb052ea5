package record

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// told is what a record announced in a story, and when: after how many changes
// to its files.
type told struct {
	order    []string // every reading and event handed over, in order
	begun    int      // Begin had returned
	written  map[string]int
	syncedAt map[string]int
}

// tellStory runs a short session on a layer: readings and events in turn, with
// checkpoints in between, and a clean end.
func tellStory(t *testing.T, l *layer) told {
	t.Helper()
	r, err := Open(t.TempDir(), Options{layer: l.name, checkpointPages: 12})
	if err != nil {
		t.Fatal(err)
	}
	story := told{written: map[string]int{}, syncedAt: map[string]int{}}
	run, _ := begin(t, r)
	story.begun = l.length()
	if _, err := r.StartSession(Session{Name: "crash", Start: Moment{run.ID, 0}, StartedHow: ByItself}, nil, nil); err != nil {
		t.Fatal(err)
	}
	at := time.Duration(0)
	for sequence := int64(1); sequence <= 8; sequence++ {
		for range 5 {
			at++
			r.AddReadings([]Reading{temperature("hot-a", at, float64(at))})
			story.order = append(story.order, fmt.Sprint("reading ", int64(at)))
		}
		at++
		name := fmt.Sprint("event ", sequence)
		story.order = append(story.order, name)
		done := make(chan struct{})
		if err := r.Add(
			func(err error) {
				if err == nil {
					story.written[name] = l.length()
				}
			},
			func(err error) {
				if err == nil {
					story.syncedAt[name] = l.length()
				}
				close(done)
			},
			&Event{Sequence: sequence, Moment: Moment{At: at}, Alarm: "hot-over-line"},
			&State{Moment{At: at}, fmt.Appendf(nil, `{"sequence":%d}`, sequence)},
		); err != nil {
			t.Fatal(err)
		}
		<-done
	}
	if err := r.EndRun(at); err != nil {
		t.Fatal(err)
	}
	closeRecord(t, r)
	if len(story.written) != 8 || len(story.syncedAt) != 8 {
		t.Fatalf("announced %d written and %d synced of 8", len(story.written), len(story.syncedAt))
	}
	return story
}

// reopened gives what a record holds on a disk as it was left, in order, after
// checking the record as a whole and that a new run can begin on it.
func (d disk) reopened(t testing.TB, dir string) []string {
	t.Helper()
	d.save(t, dir)
	r, err := Open(dir, Options{layer: newLayer(t).name})
	if err != nil {
		t.Fatal(err)
	}
	if r.SetAside() != "" {
		t.Fatal("the record was taken for damaged")
	}
	at := map[Moment]string{}
	last := Moment{}
	for reading, err := range r.Readings(t.Context(), After(Moment{})) {
		if err != nil {
			t.Fatal(err)
		}
		at[reading.Moment()] = fmt.Sprint("reading ", int64(reading.At))
		last = reading.Moment()
	}
	for event, err := range r.Events(t.Context(), After(Moment{})) {
		if err != nil {
			t.Fatal(err)
		}
		at[event.Moment] = fmt.Sprint("event ", event.Sequence)
		if event.Moment.Compare(last) > 0 {
			last = event.Moment
		}
	}
	var all []string
	for offset := time.Duration(1); offset <= last.At; offset++ {
		all = append(all, at[Moment{1, offset}])
	}
	begin(t, r)
	closeRecord(t, r)
	verified(t, dir)
	return all
}

// check holds a reopened record against the story: a prefix of what was handed
// over, with everything announced by change n in it.
func (s told) check(t testing.TB, n int, got []string, announced map[string]int) {
	t.Helper()
	if len(got) > len(s.order) {
		t.Fatalf("change %d: %d rows, only %d were handed over", n, len(got), len(s.order))
	}
	held := map[string]bool{}
	for i, name := range got {
		if name != s.order[i] {
			t.Fatalf("change %d: row %d is %q, handed over was %q", n, i, name, s.order[i])
		}
		held[name] = true
	}
	for name, at := range announced {
		if at <= n && !held[name] {
			t.Errorf("change %d: %s was announced at change %d and is missing", n, name, at)
		}
	}
}

// TestKilledAtEveryWrite stops the process in the middle of each change to its
// files, with the write torn at several places.
func TestKilledAtEveryWrite(t *testing.T) {
	l := newLayer(t)
	story := tellStory(t, l)
	log := l.log
	t.Logf("%d changes to files", len(log))
	for n := range len(log) + 1 {
		for _, torn := range []int{0, 23, 512} {
			if torn > 0 && (n == len(log) || log[n].kind != written || len(log[n].data) <= torn) {
				continue
			}
			story.check(t, n, killed(log, n, torn).reopened(t, t.TempDir()), story.written)
			if t.Failed() {
				return
			}
		}
	}
}

// TestPowerCutAtEveryWrite cuts the power before each change to a file: what
// was not synced is there, or torn, or not, each by chance.
func TestPowerCutAtEveryWrite(t *testing.T) {
	l := newLayer(t)
	story := tellStory(t, l)
	log := l.log
	for n := range len(log) + 1 {
		for seed := range 2 {
			d := dice(uint64(n)*31 + uint64(seed) + 1)
			chance := d.roll
			if seed == 0 {
				chance = func(int) int { return 0 } // nothing unsynced survives
			}
			story.check(t, n, powerCut(log, n, chance).reopened(t, t.TempDir()), story.syncedAt)
			if t.Failed() {
				t.Logf("seed %d", seed)
				return
			}
		}
	}
}

// TestPowerCutByChance tries many more orders of loss at a chosen change.
func TestPowerCutByChance(t *testing.T) {
	l := newLayer(t)
	story := tellStory(t, l)
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(0, len(l.log)).Draw(rt, "change")
		d := dice(rapid.Uint64Min(1).Draw(rt, "dice"))
		story.check(t, n, powerCut(l.log, n, d.roll).reopened(t, t.TempDir()), story.syncedAt)
		if t.Failed() {
			rt.FailNow()
		}
	})
}

// TestWrittenIsNotSynced shows that the power-cut model can fail a record that
// announces too early: an event that is only written is lost with the power.
func TestWrittenIsNotSynced(t *testing.T) {
	l := newLayer(t)
	story := tellStory(t, l)
	for name, at := range story.written {
		got := powerCut(l.log, at, func(int) int { return 0 }).reopened(t, t.TempDir())
		if slices.Contains(got, name) {
			t.Errorf("%s outlasts a power cut before it was synced", name)
		}
	}
}
