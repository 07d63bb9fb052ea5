package hub

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/ncruces/go-sqlite3"

	"simmerline/rules"
	"simmerline/sensors/clock"
)

// afternoon is when the first run of these tests begins, in a place of its own.
var afternoon = time.Date(2026, 5, 7, 14, 0, 0, 0, time.FixedZone("here", -6*60*60))

// runHot makes a run of the hub over a folder, from afternoon on, in which a
// bath is hot for a minute, and ends it.
func runHot(t *testing.T, dir string, session bool, why error) {
	t.Helper()
	manual := clock.NewManual(0, afternoon)
	b := start(t, dir, func(o *Options) { o.Clock = manual })
	if session {
		if _, _, err := b.hub.StartSession(t.Context(), "blue ring", 0, "Maren"); err != nil {
			t.Fatal(err)
		}
	}
	for range 60 {
		b.deliver(map[string]float64{"hot": 80, "h2s": 0})
		b.turn(manual, time.Second)
	}
	time.Sleep(5 * time.Second) // the record's pace is real time
	synctest.Wait()
	b.stopBecause(why)
}

// turn moves a hub's clock on.
func (b *bubble) turn(manual *clock.Manual, d time.Duration) {
	for end := manual.Now() + d; manual.Now() < end; {
		manual.Advance(tickEvery)
		synctest.Wait()
	}
	time.Sleep(2 * publishEvery)
	synctest.Wait()
}

func contains(t *testing.T, text string, parts ...string) {
	t.Helper()
	for _, part := range parts {
		if !strings.Contains(text, part) {
			t.Errorf("%q does not say %q", text, part)
		}
	}
}

// A computer without a clock of its own comes back in the past.
func TestPowerCutIsToldThoughTheClockWentBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		runHot(t, dir, true, ErrPowerCut)
		manual := clock.NewManual(0, afternoon.Add(-3*time.Hour))
		b := start(t, dir, func(o *Options) { o.Clock = manual })
		defer func() { b.stop() }()
		b.turn(manual, time.Second)
		if got := b.alarm("hub-was-dark"); got.State != rules.Unacknowledged {
			t.Errorf("hub-was-dark is %s", got.State)
		}
		s := b.hub.Snapshot()
		contains(t, s.Start.Means, "unknown time", "power may have failed", "may be on again")
		if s.Start.Dark != 0 || !s.Start.After {
			t.Errorf("the start notice: %+v", s.Start)
		}
		if s.Session == nil {
			t.Error("the session did not go on")
		}
	})
}

func TestStopOnPurposeIsTakenForLongWhereTheClockWentBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		runHot(t, dir, false, nil)
		manual := clock.NewManual(0, afternoon.Add(-3*time.Hour))
		b := start(t, dir, func(o *Options) { o.Clock = manual })
		defer func() { b.stop() }()
		b.turn(manual, time.Second)
		if got := b.alarm("hub-was-dark").State; got != rules.Unacknowledged {
			t.Errorf("hub-was-dark is %s", got)
		}
	})
}

func TestTextsTellTheTimeOfThisPlace(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		runHot(t, dir, true, ErrPowerCut)
		manual := clock.NewManual(0, afternoon.Add(5*time.Minute))
		b := start(t, dir, func(o *Options) { o.Clock = manual })
		defer func() { b.stop() }()
		b.turn(manual, time.Second)
		s := b.hub.Snapshot()
		contains(t, s.Start.Means, "from 14:01")
		if got := s.Session.StartWall.Format("15:04 -0700"); got != "14:00 -0600" {
			t.Errorf("the session began at %s", got)
		}
		_, _, err := b.hub.StartSession(t.Context(), "another", 0, "Ilo")
		contains(t, err.Error(), "since 14:00")
	})
}

// spoil changes the record of a hub that is off.
func spoil(t *testing.T, dir, statement string) {
	t.Helper()
	db, err := sqlite3.Open(filepath.Join(dir, "record.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.Exec(statement); err != nil {
		t.Fatal(err)
	}
}

// Where nobody can tell any more whether a bath was hot, one may have been.
func TestUnreadableAlarmsAreTakenForTheWorst(t *testing.T) {
	for what, damage := range map[string]func(t *testing.T, dir string){
		"another shape":   func(t *testing.T, dir string) { spoil(t, dir, `UPDATE states SET json = '[1]'`) },
		"another version": func(t *testing.T, dir string) { spoil(t, dir, `UPDATE states SET json = '{"version":99}'`) },
		"no state":        func(t *testing.T, dir string) { spoil(t, dir, `DELETE FROM states`) },
		"no record": func(t *testing.T, dir string) {
			if err := os.WriteFile(filepath.Join(dir, "record.db"), []byte("what the power cut has left"), 0o600); err != nil {
				t.Fatal(err)
			}
		},
	} {
		t.Run(what, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				dir := t.TempDir()
				runHot(t, dir, false, ErrPowerCut)
				damage(t, dir)
				manual := clock.NewManual(0, afternoon.Add(5*time.Minute))
				b := start(t, dir, func(o *Options) { o.Clock = manual })
				defer func() { b.stop() }()
				b.turn(manual, time.Second)
				if got := b.alarm("hub-was-dark").State; got != rules.Unacknowledged {
					t.Errorf("hub-was-dark is %s", got)
				}
				contains(t, b.hub.Snapshot().Start.Means, "could not be taken up", "may be on again")
			})
		})
	}
}

// A hub whose record is not the one that was wanted knows nothing of before.
func TestNothingIsKnownOfBeforeOverAPassingRecord(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := start(t, t.TempDir(), func(o *Options) { o.RecordFails = "its folder can't be used" })
		defer func() { b.stop() }()
		b.read(3, map[string]float64{"hot": 22, "h2s": 0})
		if got := b.alarm("hub-was-dark").State; got != rules.Unacknowledged {
			t.Errorf("hub-was-dark is %s", got)
		}
		// What goes into a passing folder is not in the record.
		begun := time.Now()
		if recorded, err := b.hub.Mark(t.Context(), "stirred", "Ilo"); err != nil || recorded != RecordedNo || time.Since(begun) > answerWithin/2 {
			t.Errorf("a mark: %s after %s, %v", recorded, time.Since(begun), err)
		}
		w, err := b.hub.Watch(t.Context(), WatchOptions{Resume: true})
		if err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		for _, a := range b.announcements(w) {
			if a.Recorded != RecordedNo {
				t.Errorf("number %d is announced as %s", a.Sequence, a.Recorded)
			}
		}
		if b.hub.Snapshot().Record.Recording {
			t.Error("the state says that it records")
		}
	})
}

// A disk that is lost while the hub begins keeps it from nothing.
func TestHubBeginsThoughTheDiskIsLostMeanwhile(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var giveBack func()
		b := start(t, t.TempDir(), func(o *Options) {
			o.Earlier = &Earlier{Play: func(*Past) error {
				giveBack = seize(t, &bubble{t: t, hub: &Hub{options: *o}})
				return nil
			}}
		})
		defer func() { b.stop() }()
		defer func() { giveBack() }()
		b.read(10, map[string]float64{"hot": 60, "h2s": 6})
		if got := b.alarm("fume-h2s-danger").State; got != rules.Unacknowledged {
			t.Errorf("fume-h2s-danger is %s", got)
		}
		if got := b.alarm("record-failing").State; got != rules.Unacknowledged {
			t.Errorf("record-failing is %s", got)
		}
	})
}
