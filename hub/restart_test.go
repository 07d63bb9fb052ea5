package hub

import (
	"context"
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"simmerline/hub/notify"
	"simmerline/hub/record"
	"simmerline/rules"
	"simmerline/sensors"
	"simmerline/sensors/clock"
)

// The breaker trips while a bath is hot and a fume alarm is latched; four
// minutes later the hub comes back over the same record.
func TestPowerCutIsToldAndAlarmsAreTakenUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		b := start(t, dir, nil)
		b.read(5, map[string]float64{"hot": 80, "h2s": 0})
		b.read(1, map[string]float64{"hot": 80, "h2s": 6})
		if _, _, err := b.hub.Acknowledge(t.Context(), "fume-h2s-danger", "Maren", ""); err != nil {
			t.Fatal(err)
		}
		if _, _, err := b.hub.StartSession(t.Context(), "blue ring", 0, "Maren"); err != nil {
			t.Fatal(err)
		}
		b.read(150, map[string]float64{"hot": 80, "h2s": 0.1})
		before := b.hub.Snapshot()
		if got := b.alarm("fume-h2s-danger").State; got != rules.LatchedAcknowledged {
			t.Fatalf("before the cut: %s", got)
		}
		b.stopBecause(ErrPowerCut)
		time.Sleep(4 * time.Minute)

		b = start(t, dir, nil)
		defer func() { b.stop() }()
		synctest.Wait()
		s := b.hub.Snapshot()
		if s.Run != before.Run+1 || s.Sequence <= before.Sequence {
			t.Errorf("run %d after %d, sequence %d after %d", s.Run, before.Run, s.Sequence, before.Sequence)
		}
		if n := s.Start; !n.After || n.Clean || n.Dark < 4*time.Minute || n.Dark > 4*time.Minute+6*time.Second {
			t.Errorf("the start notice: %+v", n)
		}
		for _, part := range []string{"4 minutes", "power may have failed", "hot plate that was on may be on again"} {
			if !strings.Contains(s.Start.Means, part) {
				t.Errorf("%q does not say %q", s.Start.Means, part)
			}
		}
		if got := b.alarm("fume-h2s-danger"); got.State != rules.LatchedAcknowledged || got.By != "Maren" {
			t.Errorf("the latched alarm: %s by %q", got.State, got.By)
		}
		if got := b.alarm("hub-was-dark").State; got != rules.Unacknowledged {
			t.Errorf("hub-was-dark is %s", got)
		}
		if b.sound.last() != notify.Warning {
			t.Errorf("it sounds %v, want warning", b.sound.last())
		}
		if s.Session == nil || s.Session.Name != "blue ring" {
			t.Errorf("the session did not go on: %+v", s.Session)
		}
	})
}

func TestLongDarkEndsTheSessionWhereTheRecordEnds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		b := start(t, dir, nil)
		b.read(20, map[string]float64{"hot": 30, "h2s": 0})
		if _, _, err := b.hub.StartSession(t.Context(), "left open", 0, "Ilo"); err != nil {
			t.Fatal(err)
		}
		b.read(60, map[string]float64{"hot": 30, "h2s": 0})
		b.stopBecause(ErrPowerCut)
		time.Sleep(2 * time.Hour)
		b = start(t, dir, nil)
		defer func() { b.stop() }()
		synctest.Wait()
		if s := b.hub.Snapshot(); s.Session != nil {
			t.Errorf("the session is still open: %+v", s.Session)
		}
		time.Sleep(2 * time.Second)
		sessions, err := b.hub.Record().Sessions(t.Context())
		if err != nil || len(sessions) != 1 {
			t.Fatalf("%v, %v", sessions, err)
		}
		if got := sessions[0]; got.EndedHow != record.ByPowerLoss || got.End.Run != 1 || got.End.At > 85*time.Second || got.End.At < 70*time.Second {
			t.Errorf("it ended %+v", got)
		}
	})
}

func TestQuickRestartOnPurposeCallsNobody(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		b := start(t, dir, nil)
		b.read(5, map[string]float64{"hot": 80, "h2s": 0})
		b.stop()
		time.Sleep(3 * time.Second)
		b = start(t, dir, nil)
		defer func() { b.stop() }()
		b.read(3, map[string]float64{"hot": 80, "h2s": 0})
		if got := b.alarm("hub-was-dark").State; got != rules.Normal {
			t.Errorf("hub-was-dark is %s", got)
		}
		if s := b.hub.Snapshot(); !s.Start.After || !s.Start.Clean {
			t.Errorf("the start notice: %+v", s.Start)
		}
	})
}

// stopBecause ends the hub for a reason of its own.
func (b *bubble) stopBecause(reason error) {
	b.cancel(reason)
	b.stop()
}

func TestSuspendMakesReadingsUnknownAndIsTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		manual := clock.NewManual(0, time.Date(2026, 5, 7, 13, 0, 0, 0, time.UTC))
		b := start(t, t.TempDir(), func(o *Options) { o.Clock = manual })
		defer func() { b.stop() }()
		w, err := b.hub.Watch(t.Context(), WatchOptions{})
		if err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		turn := func(d time.Duration) {
			for end := manual.Now() + d; manual.Now() < end; {
				manual.Advance(tickEvery)
				synctest.Wait()
			}
			time.Sleep(2 * publishEvery)
			synctest.Wait()
		}
		b.deliver(map[string]float64{"hot": 80, "h2s": 0})
		turn(time.Second)
		if q := b.hub.Snapshot().View.Baths[0].Reading; !q.Value.Known() {
			t.Fatalf("before the sleep: %+v", q)
		}
		manual.Suspend(20 * time.Minute)
		turn(time.Second)
		if q := b.hub.Snapshot().View.Baths[0].Reading; q.Value.Known() {
			t.Errorf("after the sleep the old reading still counts: %+v", q)
		}
		var kinds []string
		for _, a := range b.announcements(w) {
			if a.Notice != nil {
				kinds = append(kinds, a.Notice.Kind.String())
			}
		}
		if got := strings.Join(kinds, ","); got != "gap" {
			t.Errorf("notices: %s, want one gap and no clock step", got)
		}
	})
}

func TestSessionBeginsWhereTheRiseBeganAndEndsByItself(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		ramp := func(from, to float64, seconds int) {
			for i := range seconds {
				b.deliver(map[string]float64{"hot": from + (to-from)*float64(i)/float64(seconds), "h2s": 0})
				time.Sleep(time.Second)
			}
			synctest.Wait()
		}
		ramp(22, 22, 120)
		if s := b.hub.Snapshot().Session; s != nil {
			t.Fatalf("a session began over a cold bath: %+v", s)
		}
		ramp(22, 60, 600)
		s := b.hub.Snapshot().Session
		if s == nil || s.StartedHow != record.ByItself {
			t.Fatalf("no session began: %+v", s)
		}
		if at := s.Start.At.Seconds(); at < 118 || at > 135 {
			t.Errorf("it begins at %.0f s, want where the rise began, 120 s", at)
		}
		ramp(60, 35, 600)
		ramp(35, 30, 400)
		if b.hub.Snapshot().Session == nil {
			t.Error("it ended before ten minutes had been cool")
		}
		ramp(30, 28, 200)
		if s := b.hub.Snapshot().Session; s != nil {
			t.Errorf("it did not end by itself: %+v", s)
		}
	})
}

func TestInRangeChimesOnce(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		w, err := b.hub.Watch(t.Context(), WatchOptions{})
		if err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		b.read(10, map[string]float64{"hot": 40, "h2s": 0})
		b.read(60, map[string]float64{"hot": 60, "h2s": 0})
		b.read(10, map[string]float64{"hot": 54, "h2s": 0})
		b.read(30, map[string]float64{"hot": 60, "h2s": 0})
		told := 0
		for _, a := range b.announcements(w) {
			if a.Notice != nil && a.Notice.Kind == NoticeInRange {
				told++
			}
		}
		if told != 1 {
			t.Errorf("it was told %d times, want once", told)
		}
	})
}

func TestRefusalsSayWhy(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		b.read(3, map[string]float64{"hot": 70, "h2s": 0})
		cases := []struct {
			what string
			err  func() error
			want error
		}{
			{"no such alarm", func() error { _, _, err := b.hub.Acknowledge(t.Context(), "nonsense", "Ilo", ""); return err }, rules.ErrNoSuchAlarm},
			{"nothing to acknowledge", func() error { _, _, err := b.hub.Acknowledge(t.Context(), "hot-sulfide-danger", "Ilo", ""); return err }, rules.ErrNotNow},
			{"no name", func() error { _, _, err := b.hub.Acknowledge(t.Context(), "hot-sulfide-danger", "", ""); return err }, rules.ErrNoName},
			{"hot bench", func() error { _, err := b.hub.PutAway(t.Context(), "Ilo", ""); return err }, rules.ErrNotNow},
			{"no session", func() error { _, _, err := b.hub.EndSession(t.Context(), "Ilo"); return err }, ErrNoSessionOpen},
			{"empty mark", func() error { _, err := b.hub.Mark(t.Context(), " ", "Ilo"); return err }, ErrBadText},
			{"control characters", func() error { _, err := b.hub.Mark(t.Context(), "a\x1b[2J", "Ilo"); return err }, ErrBadText},
			{"too long ago", func() error { _, _, err := b.hub.StartSession(t.Context(), "x", 48*time.Hour, "Ilo"); return err }, ErrBadText},
		}
		for _, c := range cases {
			if err := c.err(); !errors.Is(err, c.want) {
				t.Errorf("%s: got %v, want %v", c.what, err, c.want)
			}
		}
		if _, _, err := b.hub.StartSession(t.Context(), "one", 0, "Ilo"); err != nil {
			t.Fatal(err)
		}
		if _, _, err := b.hub.StartSession(t.Context(), "two", 0, "Ilo"); !errors.Is(err, ErrSessionOpen) {
			t.Errorf("a second session: %v", err)
		}
	})
}

func TestRequestsEndWhenTheHubHasStopped(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := start(t, t.TempDir(), nil)
		w, err := b.hub.Watch(t.Context(), WatchOptions{})
		if err != nil {
			t.Fatal(err)
		}
		b.stop()
		for err == nil {
			_, err = w.Next(context.Background())
		}
		if !errors.Is(err, ErrStopping) {
			t.Errorf("the watch ended with %v", err)
		}
		if _, err := b.hub.Mark(t.Context(), "late", "Ilo"); !errors.Is(err, ErrStopping) {
			t.Errorf("a mark after the end: %v", err)
		}
		if b.hub.Alive() {
			t.Error("it says that it is alive")
		}
		b.hub.Deliver(sensors.Batch{Port: "wire"})
		w.Close()
	})
}
