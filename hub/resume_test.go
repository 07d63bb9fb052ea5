package hub

import (
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/ncruces/go-sqlite3"

	"simmerline/rules"
)

// seize takes the record's file away from the hub until the function it gives
// is called, as a disk does that no longer takes anything.
func seize(t *testing.T, b *bubble) (giveBack func()) {
	t.Helper()
	other, err := sqlite3.Open(filepath.Join(b.hub.options.Record.Dir(), "record.db"))
	if err == nil {
		err = other.BusyTimeout(5 * time.Second)
	}
	if err == nil {
		err = other.Exec("BEGIN IMMEDIATE")
	}
	if err != nil {
		t.Fatal(err)
	}
	return func() {
		if err := other.Close(); err != nil {
			t.Error(err)
		}
	}
}

// marked makes a run of the hub over a folder that marks something so often,
// and gives the newest number that a client has of it.
func marked(t *testing.T, dir string, times int) (run, newest uint64) {
	t.Helper()
	b := start(t, dir, nil)
	defer b.stop()
	for range times {
		if _, err := b.hub.Mark(t.Context(), "stirred", "Ilo"); err != nil {
			t.Fatal(err)
		}
	}
	time.Sleep(time.Second)
	synctest.Wait()
	return b.hub.Snapshot().Run, b.hub.Snapshot().Sequence
}

func numbers(all []Announcement) (n []uint64) {
	for _, a := range all {
		n = append(n, a.Sequence)
	}
	return n
}

// wantRow wants every number from the first to the last, once each.
func wantRow(t *testing.T, got []Announcement, first, last uint64) {
	t.Helper()
	want := first
	for _, a := range got {
		if a.Sequence == want {
			want++
		}
	}
	if want != last+1 || uint64(len(got)) != last+1-first {
		t.Errorf("got numbers %v, want all from %d to %d", numbers(got), first, last)
	}
}

// A client that was away may not be kept from watching by a broken disk.
func TestComingBackNeedsNoRecord(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		run, newest := marked(t, dir, 3)
		b := start(t, dir, nil)
		defer b.stop()
		if err := b.hub.options.Record.Close(t.Context()); err != nil {
			t.Fatal(err)
		}
		w, err := b.hub.Watch(t.Context(), WatchOptions{Resume: true, Run: run, After: newest - 1})
		if err != nil {
			t.Fatalf("refused: %v", err)
		}
		defer w.Close()
		first, err := w.Next(t.Context())
		if err != nil || first.State == nil || !first.Incomplete {
			t.Errorf("got %+v, %v; want a state, and word that something is missing", first, err)
		}
		wantRow(t, first.Announcements, newest+1, newest+1)
	})
}

// What the record has not taken yet is in memory; both belong to what a client missed.
func TestComingBackJoinsRecordAndMemory(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		run, newest := marked(t, dir, 3)
		b := start(t, dir, nil)
		defer b.stop()
		defer seize(t, b)()
		if recorded, err := b.hub.Mark(t.Context(), "in no record", "Ilo"); err != nil || recorded != RecordedNo {
			t.Fatalf("the mark: %s, %v", recorded, err)
		}
		w, err := b.hub.Watch(t.Context(), WatchOptions{Resume: true, Run: run, After: 1})
		if err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		first, err := w.Next(t.Context())
		if err != nil || first.Incomplete {
			t.Errorf("incomplete: %v, %v", first.Incomplete, err)
		}
		wantRow(t, first.Announcements, 2, newest+2)
	})
}

// After a power cut the record may end before what was announced, and its
// numbers are given anew: to a client of the earlier run they mean other things.
func TestNumbersLostInAPowerCutHideNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		run, newest := marked(t, dir, 3)
		marked(t, dir, 4)
		b := start(t, dir, nil)
		defer b.stop()
		synctest.Wait()
		last := b.hub.Snapshot().Sequence
		for what, o := range map[string]WatchOptions{
			"it has numbers that were lost":        {Resume: true, Run: run, After: newest + 3},
			"it has more than there are even now":  {Resume: true, Run: run, After: last + 100},
			"it has just what was kept of its run": {Resume: true, Run: run, After: newest},
		} {
			w, err := b.hub.Watch(t.Context(), o)
			if err != nil {
				t.Fatal(err)
			}
			first, err := w.Next(t.Context())
			if err != nil || first.Incomplete {
				t.Errorf("%s: incomplete %v, %v", what, first.Incomplete, err)
			}
			wantRow(t, first.Announcements, newest+1, last)
			w.Close()
		}
	})
}

func TestNumberFromElsewhereIsToldToBeIncomplete(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		w, err := b.hub.Watch(t.Context(), WatchOptions{Resume: true, Run: 7, After: 500})
		if err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		if first, err := w.Next(t.Context()); err != nil || first.State == nil || !first.Incomplete {
			t.Errorf("got %+v, %v", first, err)
		}
	})
}

// A client that comes while an event waits for the disk sees the alarm not
// before its event, and is given the event.
func TestFirstStateRunsAheadOfNoEvent(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		b.read(3, map[string]float64{"hot": 60, "h2s": 0})
		defer seize(t, b)()
		b.deliver(map[string]float64{"h2s": 6})
		time.Sleep(waitForDisk / 2) // raised, and held back
		w, err := b.hub.Watch(t.Context(), WatchOptions{})
		if err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		first, err := w.Next(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range first.State.View.Alarms {
			if a.Name == "fume-h2s-danger" && a.State != rules.Normal {
				t.Errorf("the state shows %s as %s, before its event", a.Name, a.State)
			}
		}
		time.Sleep(waitForDisk)
		if got := b.announcements(w); len(got) == 0 || got[0].Sequence != first.State.Sequence+1 {
			t.Errorf("after a state of number %d came %v", first.State.Sequence, numbers(got))
		}
	})
}

// What was said of an alarm before the fumes came may ask somebody to the
// bench. Whoever hears it only now must not be asked.
func TestOldEventsAskNobodyIntoFumes(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		b.read(20, map[string]float64{"hot": 91, "h2s": 0})
		b.read(1, map[string]float64{"hot": 91, "h2s": 6})
		w, err := b.hub.Watch(t.Context(), WatchOptions{Resume: true})
		if err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		found := 0
		for _, a := range b.announcements(w) {
			if e := a.Alarm; e != nil {
				found++
				if strings.Contains(e.Sentence, "Turn the hot plate") {
					t.Errorf("number %d says %q", a.Sequence, e.Sentence)
				}
				if e.Alarm == "fume-h2s-danger" && !strings.Contains(e.Sentence, "Leave now") {
					t.Errorf("number %d says only %q", a.Sequence, e.Sentence)
				}
			}
		}
		if found < 3 {
			t.Fatalf("%d alarm events came; the line, its warning and the fumes were wanted", found)
		}
	})
}
