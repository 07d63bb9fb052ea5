package hub

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"simmerline/hub/bench"
	"simmerline/hub/notify"
	"simmerline/hub/record"
	"simmerline/rules"
	"simmerline/sensors"
	"simmerline/sensors/clock"
)

const benchText = `
bench: Pennywhistle Yard
site: {altitude: 1609 m}
ports:
  - name: wire
    device: {path: /dev/ttyUSB0}
    protocol: lines
    baud: 115200
    format: name=value
    channels:
      - {name: hot, quantity: temperature, from: t1}
  - name: head
    device: {path: /dev/ttyUSB1}
    protocol: modbus
    baud: 19200
    unit: 17
    channels:
      - {name: h2s, quantity: gas, gas: h2s, function: 4, register: 0, type: int16, range: "-5..100 ppm"}
baths:
  - {name: hot-sulfide, label: hot sulfide, kind: sulfide, probes: [hot], range: 55..75 C}
`

func testBench(t *testing.T) *bench.Bench {
	t.Helper()
	b, faults := bench.Parse("bench.yaml", []byte(benchText))
	if len(faults) > 0 {
		t.Fatalf("the test's bench has faults: %v", faults)
	}
	return b
}

// quietSounder notes what it is told, and when.
type quietSounder struct {
	mu     sync.Mutex
	levels []notify.Level
	cannot bool
}

func (s *quietSounder) Set(l notify.Level) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.levels = append(s.levels, l)
}

func (s *quietSounder) State() notify.State {
	s.mu.Lock()
	defer s.mu.Unlock()
	return notify.State{Checked: true, CanSound: !s.cannot, By: "test", Detail: "a test"}
}

func (s *quietSounder) last() notify.Level {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.levels) == 0 {
		return notify.Silence
	}
	return s.levels[len(s.levels)-1]
}

// bubble is a hub in a synctest bubble, with what a test needs to drive it.
type bubble struct {
	t     *testing.T
	hub   *Hub
	clock clock.Clock
	sound *quietSounder
	stop  func()
	// cancel ends the hub's loop for a reason.
	cancel context.CancelCauseFunc
}

// options are those of a hub over the record in a folder.
func options(t *testing.T, dir string) Options {
	t.Helper()
	rec, err := record.Open(dir, record.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return Options{
		Bench: testBench(t), Clock: clock.NewSystem(), Record: rec, Sounder: &quietSounder{},
		Log: slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelWarn})), Software: "test",
	}
}

// start runs a hub over the record in a folder until stop is called.
func start(t *testing.T, dir string, change func(*Options)) *bubble {
	t.Helper()
	o := options(t, dir)
	b := &bubble{t: t, sound: o.Sounder.(*quietSounder)}
	if change != nil {
		change(&o)
	}
	b.clock = o.Clock
	var err error
	if b.hub, err = New(t.Context(), o); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancelCause(context.Background())
	b.cancel = cancel
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		b.hub.Run(ctx)
	}()
	b.stop = func() {
		cancel(nil)
		<-ended
		if err := o.Record.Close(context.Background()); err != nil {
			t.Error(err)
		}
	}
	return b
}

// read delivers a good reading of each channel once a second, for so many seconds.
func (b *bubble) read(seconds int, values map[string]float64) {
	for range seconds {
		b.deliver(values)
		time.Sleep(time.Second)
	}
	synctest.Wait()
}

func (b *bubble) deliver(values map[string]float64) {
	for _, p := range b.hub.options.Bench.Ports {
		batch := sensors.Batch{Port: p.Name, At: b.clock.Now()}
		for _, c := range p.Channels() {
			if v, given := values[c.Name]; given {
				batch.Readings = append(batch.Readings, c.Convert(b.clock.Now(), v))
			}
		}
		b.hub.Deliver(batch)
	}
}

// alarm is one alarm of the newest state.
func (b *bubble) alarm(name string) rules.AlarmView {
	b.t.Helper()
	for _, a := range b.hub.Snapshot().View.Alarms {
		if a.Name == name {
			return a
		}
	}
	b.t.Fatalf("there is no alarm %q", name)
	return rules.AlarmView{}
}

// announcements takes all that a watcher has been given so far.
func (b *bubble) announcements(w *Watcher) (all []Announcement) {
	b.t.Helper()
	synctest.Wait()
	for {
		ctx, cancel := context.WithTimeout(context.Background(), time.Millisecond)
		update, err := w.Next(ctx)
		cancel()
		if errors.Is(err, context.DeadlineExceeded) {
			return all
		}
		if err != nil {
			b.t.Fatal(err)
		}
		all = append(all, update.Announcements...)
	}
}

// inBubble runs a test in a bubble with a hub over a new record.
func inBubble(t *testing.T, test func(t *testing.T, b *bubble)) {
	synctest.Test(t, func(t *testing.T) {
		b := start(t, t.TempDir(), nil)
		defer b.stop()
		test(t, b)
	})
}

func TestDangerSoundsAndIsAnnouncedOnceWritten(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		w, err := b.hub.Watch(t.Context(), WatchOptions{})
		if err != nil {
			t.Fatal(err)
		}
		b.read(5, map[string]float64{"hot": 60, "h2s": 0})
		b.deliver(map[string]float64{"h2s": 6})
		synctest.Wait()
		if got := b.sound.last(); got != notify.Danger {
			t.Errorf("the sounder was last told %v, want danger", got)
		}
		var raised []Announcement
		for _, a := range b.announcements(w) {
			if a.Alarm != nil && a.Alarm.Alarm == "fume-h2s-danger" {
				raised = append(raised, a)
			}
		}
		if len(raised) != 1 {
			t.Fatalf("got %d announcements of the danger, want 1: %+v", len(raised), raised)
		}
		if e := raised[0].Alarm; e.To != rules.Unacknowledged || e.Priority != rules.Danger || e.Trigger.Channel != "h2s" {
			t.Errorf("got %+v", e)
		}
		if raised[0].Recorded != RecordedWritten {
			t.Errorf("announced as %s, want written", raised[0].Recorded)
		}
		alarm, recorded, err := b.hub.Acknowledge(t.Context(), "fume-h2s-danger", "Maren", "outside")
		if err != nil || recorded != RecordedSynced || alarm.State != rules.Acknowledged || alarm.By != "Maren" {
			t.Errorf("acknowledge: %+v, %s, %v", alarm, recorded, err)
		}
		if got := b.sound.last(); got == notify.Danger {
			t.Error("it still sounds after the acknowledge")
		}
		w.Close()
	})
}

func TestSequenceHasNoHoleAndStateNeverRunsAhead(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		w, err := b.hub.Watch(t.Context(), WatchOptions{Resume: true})
		if err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		for i := range 10 {
			b.read(1, map[string]float64{"hot": 60, "h2s": float64(i%2) * 6})
			if _, err := b.hub.Mark(t.Context(), "stirred", "Ilo"); err != nil {
				t.Fatal(err)
			}
		}
		var want uint64 = 1
		for {
			ctx, cancel := context.WithTimeout(t.Context(), 100*time.Millisecond)
			update, err := w.Next(ctx)
			cancel()
			if err != nil {
				break
			}
			for _, a := range update.Announcements {
				if a.Sequence != want {
					t.Fatalf("got number %d, want %d", a.Sequence, want)
				}
				want++
			}
			if s := update.State; s != nil && s.Sequence >= want {
				t.Fatalf("a state includes number %d, and only those before %d have come", s.Sequence, want)
			}
		}
		if want < 12 {
			t.Errorf("only %d announcements came", want-1)
		}
	})
}

func TestSlowClientIsCutOffAndComesBackByNumber(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		slow, err := b.hub.Watch(t.Context(), WatchOptions{})
		if err != nil {
			t.Fatal(err)
		}
		first, err := slow.Next(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		const marks = eventRoom + 10
		for range marks {
			if _, err := b.hub.Mark(t.Context(), "stirred", "Ilo"); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := slow.Next(t.Context()); !errors.Is(err, ErrTooSlow) {
			t.Errorf("the slow client got %v, want ErrTooSlow", err)
		}
		slow.Close()
		back, err := b.hub.Watch(t.Context(), WatchOptions{Resume: true, After: first.State.Sequence})
		if err != nil {
			t.Fatal(err)
		}
		defer back.Close()
		if got := b.announcements(back); len(got) != marks || got[0].Sequence != first.State.Sequence+1 {
			t.Errorf("it missed something: got %d announcements, want %d", len(got), marks)
		}
	})
}

func TestEventIsAnnouncedThoughTheRecordIsGone(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		if err := b.hub.options.Record.Close(t.Context()); err != nil {
			t.Fatal(err)
		}
		w, err := b.hub.Watch(t.Context(), WatchOptions{})
		if err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		b.deliver(map[string]float64{"h2s": 6})
		found := false
		for _, a := range b.announcements(w) {
			if a.Alarm != nil && a.Alarm.Alarm == "fume-h2s-danger" {
				found = true
				if a.Recorded != RecordedNo {
					t.Errorf("announced as %s, want no", a.Recorded)
				}
			}
		}
		if !found || b.sound.last() != notify.Danger {
			t.Errorf("announced: %v, sounding: %v", found, b.sound.last())
		}
	})
}

func TestAnnouncerWaitsFiftyMillisecondsAndKeepsOrder(t *testing.T) {
	var a announcer
	begin := time.Now()
	for n := range uint64(3) {
		a.add(Announcement{Sequence: n + 1}, begin.Add(time.Duration(n)*time.Millisecond))
	}
	a.settle(settled{sequence: 2})
	if got := a.due(begin.Add(49 * time.Millisecond)); got != nil {
		t.Fatalf("told %v before the first was written", got)
	}
	got := a.due(begin.Add(50 * time.Millisecond))
	if len(got) != 2 || got[0].Recorded != RecordedNo || got[1].Recorded != RecordedWritten {
		t.Fatalf("after 50 ms: got %+v, want 1 (not recorded) and 2 (written)", got)
	}
	a.settle(settled{sequence: 3, err: errors.New("disk")})
	if got = a.due(begin); len(got) != 1 || got[0].Recorded != RecordedNo {
		t.Fatalf("a write that failed: got %+v", got)
	}
	if got, ok := a.after(1); !ok || len(got) != 2 {
		t.Errorf("after number 1: got %v, %v", got, ok)
	}
}

// A screen counts down to the moment that the intake gives the reading.
func TestProtectionCountsDownTheWarmUp(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		ready := b.clock.Now() + 100*time.Second
		b.hub.Deliver(sensors.Batch{Port: "head", At: b.clock.Now(), Readings: []sensors.Reading{{
			Channel: "h2s", At: b.clock.Now(), Value: sensors.MustValue(sensors.GasLevel, 0.1),
			Quality: sensors.QualityUncertain, Reason: sensors.ReasonWarmingUp, ReadyAt: ready,
		}}})
		time.Sleep(5 * time.Second)
		synctest.Wait()
		p := b.hub.Snapshot().Protection
		if p.Complete || p.ReadyIn < 94*time.Second || p.ReadyIn > 96*time.Second {
			t.Errorf("after 5 s of 100: %+v", p)
		}
	})
}
