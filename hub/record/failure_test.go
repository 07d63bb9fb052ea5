package record

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/ncruces/go-sqlite3"
)

// failing makes every change to the record's own files fail.
func failing(err error) func(change) error {
	return func(c change) error {
		if strings.Contains(c.file, fileName) {
			return err
		}
		return nil
	}
}

func TestFailingDiskKeepsEventsAndLosesReadingsFirst(t *testing.T) {
	l := newLayer(t)
	health := make(chan Health, 100)
	r := open(t, t.TempDir(), Options{layer: l.name, QueueReadings: 3, OnHealth: func(h Health) { health <- h }})
	run, _ := begin(t, r)
	l.failWith(failing(errDisk))
	done := newAnswers()
	if err := r.AddEvent(Event{Sequence: 1, Moment: Moment{At: 1}}, done.as("written"), done.as("synced")); err != nil {
		t.Fatal(err)
	}
	if h := <-health; !h.Failing || !errors.Is(h.Err, sqlite3.IOERR) || !strings.Contains(h.String(), "check the disk") {
		t.Errorf("health %+v", h)
	}
	for at := time.Duration(2); at < 12; at++ {
		if kept := r.AddReadings([]Reading{temperature("hot-a", at, 60)}); kept != (at < 5) {
			t.Errorf("reading at %d kept: %v", at, kept)
		}
	}
	if err := r.AddEvent(Event{Sequence: 2, Moment: Moment{At: 12}}, done.as("second written"), nil); err != nil {
		t.Fatal(err)
	}
	if len(done.all) != 0 {
		t.Errorf("announced on a failing disk: %v", done.all)
	}
	l.failWith(nil)
	done.wait(t, 3) // the retry of its own accord
	for h := range health {
		if !h.Failing {
			break
		}
	}
	gaps, err := r.Gaps(t.Context(), After(Moment{}))
	if want := (Gap{run.ID, 5, 11, GapQueueFull, 7, 0}); err != nil || len(gaps) != 1 || gaps[0] != want {
		t.Errorf("gaps %+v, %v, want %+v", gaps, err, want)
	}
	if h := r.Health(); h.ReadingsLost != 7 || h.EventsLost != 0 {
		t.Errorf("health %+v", h)
	}
}

func TestReservedRoomEndsSomewhere(t *testing.T) {
	l := newLayer(t)
	r := open(t, t.TempDir(), Options{layer: l.name, QueueEntries: 2})
	begin(t, r)
	l.failWith(failing(errDisk))
	lost := 0
	for sequence := int64(1); sequence <= 5; sequence++ {
		if err := r.AddEvent(Event{Sequence: sequence, Moment: Moment{At: time.Duration(sequence)}}, nil, nil); errors.Is(err, ErrFull) {
			lost++
		}
	}
	if lost != 3 || r.Health().EventsLost != 3 {
		t.Errorf("%d lost, health %+v", lost, r.Health())
	}
	l.failWith(nil)
	done := newAnswers()
	for r.AddEvent(Event{Sequence: 6, Moment: Moment{At: 6}}, done.as("written"), nil) != nil {
		time.Sleep(time.Millisecond) // until the retry has made room
	}
	done.wait(t, 1) // Verify finds the hole in the numbers told of by the gap
}

func TestFailedSyncIsNotAnnounced(t *testing.T) {
	l := newLayer(t)
	r := open(t, t.TempDir(), Options{layer: l.name})
	begin(t, r)
	l.failWith(func(c change) error {
		if c.kind == synced {
			return errDisk
		}
		return nil
	})
	done := newAnswers()
	if err := r.AddEvent(Event{Sequence: 1}, done.as("written"), done.as("synced")); err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(done.wait(t, 2), ","); got != "written,synced failed" {
		t.Errorf("got %s", got)
	}
	l.failWith(nil)
	before := l.length()
	if err := r.AddEvent(Event{Sequence: 2}, done.as("written"), done.as("synced")); err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(done.wait(t, 4), ","); !strings.HasSuffix(got, "written,synced") {
		t.Errorf("got %s", got)
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, c := range l.log[before:] {
		if filepath.Base(c.file) == fileName && c.kind == synced {
			return // the log was copied into the database file, and that synced
		}
	}
	t.Error("after a failed sync the log alone was synced again")
}

func TestFullStorageKeepsEventsOnly(t *testing.T) {
	var free atomic.Uint64
	free.Store(1 << 30)
	r := open(t, t.TempDir(), Options{free: func(string) (uint64, error) { return free.Load(), nil }})
	run, _ := begin(t, r)
	sequence := int64(0)
	step := func(at time.Duration) {
		t.Helper()
		r.AddReadings([]Reading{temperature("hot-a", at, 60)})
		sequence++
		done := newAnswers()
		if err := r.AddEvent(Event{Sequence: sequence, Moment: Moment{At: at}}, done.as("written"), nil); err != nil {
			t.Fatal(err)
		}
		done.wait(t, 1)
	}
	step(1)
	free.Store(1 << 20)
	step(2)
	step(3)
	if h := r.Health(); !h.StorageFull || h.ReadingsLost != 2 {
		t.Errorf("health %+v", h)
	}
	free.Store(1 << 30)
	step(4)
	gaps, err := r.Gaps(t.Context(), After(Moment{}))
	if want := (Gap{run.ID, 2, 3, GapStorageFull, 2, 0}); err != nil || len(gaps) != 1 || gaps[0] != want {
		t.Errorf("gaps %+v, %v, want %+v", gaps, err, want)
	}
}

func TestDiskThatRefusesReadingsStillTakesEvents(t *testing.T) {
	l := newLayer(t)
	r := open(t, t.TempDir(), Options{layer: l.name})
	begin(t, r)
	big := make([]Reading, 3000)
	for i := range big {
		big[i] = temperature("hot-a", time.Duration(i+1), 60)
	}
	const frame = 24 + 4096 // a page in the log
	size := int64(0)
	for _, c := range l.log {
		size = max(size, c.at+int64(len(c.data)))
	}
	l.failWith(func(c change) error {
		if c.kind == written && c.at > size+12*frame { // room for events, not for these readings
			return sqlite3.FULL
		}
		return nil
	})
	r.AddReadings(big)
	done := newAnswers()
	if err := r.AddEvent(Event{Sequence: 1, Moment: Moment{At: 3001}}, done.as("written"), nil); err != nil {
		t.Fatal(err)
	}
	done.wait(t, 1)
	l.failWith(nil)
	if h := r.Health(); h.ReadingsLost != 3000 {
		t.Errorf("health %+v", h)
	}
}

func TestCloseTellsWhatWasNotWritten(t *testing.T) {
	dir := t.TempDir()
	l := newLayer(t)
	r, err := Open(dir, Options{layer: l.name})
	if err != nil {
		t.Fatal(err)
	}
	begin(t, r)
	l.failWith(failing(errDisk))
	done := newAnswers()
	if err := r.AddEvent(Event{Sequence: 1}, done.as("written"), done.as("synced")); err != nil {
		t.Fatal(err)
	}
	closeRecord(t, r)
	if got := strings.Join(done.wait(t, 2), ","); got != "written failed,synced failed" {
		t.Errorf("got %s", got)
	}
	if err := r.AddEvent(Event{Sequence: 2}, nil, nil); !errors.Is(err, ErrClosed) {
		t.Errorf("got %v, want %v", err, ErrClosed)
	}
}

func TestDamagedFileIsSetAside(t *testing.T) {
	for name, damage := range map[string]func(t *testing.T, dir string){
		"not a database": func(t *testing.T, dir string) {
			write(t, filepath.Join(dir, fileName), strings.Repeat("no database ", 1000))
		},
		"cut short": func(t *testing.T, dir string) {
			if err := os.Truncate(filepath.Join(dir, fileName), 10000); err != nil {
				t.Fatal(err)
			}
		},
		"found damaged in use": func(t *testing.T, dir string) {
			write(t, filepath.Join(dir, damageName), "database disk image is malformed\n")
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			r := open(t, dir, Options{})
			begin(t, r)
			closeRecord(t, r)
			damage(t, dir)
			before, err := os.ReadFile(filepath.Join(dir, fileName))
			if err != nil {
				t.Fatal(err)
			}
			r = open(t, dir, Options{})
			if run, _ := begin(t, r); run.ID != 1 {
				t.Errorf("run %d in a new record", run.ID)
			}
			after, err := os.ReadFile(r.SetAside())
			if err != nil || string(after) != string(before) {
				t.Errorf("the damaged file is not kept as it was: %v", err)
			}
			if _, err := os.Stat(filepath.Join(dir, damageName)); err == nil {
				t.Error("the note of the damage is still there")
			}
		})
	}
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

// TestCommitsWaitForTheirTime shows how long a reading waits without any event.
func TestCommitsWaitForTheirTime(t *testing.T) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		r, err := Open(dir, Options{})
		if err != nil {
			t.Fatal(err)
		}
		begin(t, r)
		kept := func() (n int) {
			synctest.Wait()
			for range r.Readings(context.Background(), After(Moment{})) {
				n++
			}
			return n
		}
		r.AddReadings([]Reading{temperature("hot-a", 1, 20)})
		time.Sleep(4900 * time.Millisecond)
		if kept() != 0 {
			t.Error("committed within 5 s with nothing hot")
		}
		time.Sleep(200 * time.Millisecond)
		if kept() != 1 {
			t.Error("not committed after 5 s")
		}
		r.SetHot(true)
		r.AddReadings([]Reading{temperature("hot-a", 2, 60)})
		time.Sleep(1100 * time.Millisecond)
		if kept() != 2 {
			t.Error("not committed after 1 s with a hot bath")
		}
		closeRecord(t, r)
	})
	verified(t, dir)
}
