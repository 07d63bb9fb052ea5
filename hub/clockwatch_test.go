package hub

import (
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"simmerline/rules"
	"simmerline/sensors/clock"
)

// setClock is a clock whose wall clock can be set.
type setClock struct {
	*clock.Manual
	by atomic.Int64
}

func (c *setClock) Wall() time.Time { return c.Manual.Wall().Add(time.Duration(c.by.Load())) }

// Setting the wall clock is told, and neither ends nor prolongs anything.
func TestSettingTheClockMovesNoAlarm(t *testing.T) {
	for way, by := range map[string]time.Duration{"forward": 3 * time.Hour, "back": -3 * time.Hour} {
		t.Run(way, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				clk := &setClock{Manual: clock.NewManual(0, afternoon)}
				b := start(t, t.TempDir(), func(o *Options) { o.Clock = clk })
				defer func() { b.stop() }()
				w, err := b.hub.Watch(t.Context(), WatchOptions{})
				if err != nil {
					t.Fatal(err)
				}
				defer w.Close()
				say := func(seconds int, h2s float64) {
					for range seconds {
						b.deliver(map[string]float64{"hot": 60, "h2s": h2s})
						b.turn(clk.Manual, time.Second)
					}
				}
				say(3, 6)
				say(60, 0) // the danger clears after two minutes below
				if _, _, err := b.hub.StartSession(t.Context(), "blue ring", 0, "Maren"); err != nil {
					t.Fatal(err)
				}
				clk.by.Store(int64(by))
				say(30, 0)
				if a := b.alarm("fume-h2s-danger"); !a.Active || a.State != rules.Unacknowledged {
					t.Errorf("after a minute and a half below: %s", a.State)
				}
				say(60, 0)
				if a := b.alarm("fume-h2s-danger"); a.Active || a.State != rules.LatchedUnacknowledged {
					t.Errorf("after two minutes and a half below: %s", a.State)
				}
				s := b.hub.Snapshot()
				if s.Session == nil || !b.hub.Alive() || b.alarm("hub-was-dark").State != rules.Normal {
					t.Errorf("session %+v, alive %v", s.Session, b.hub.Alive())
				}
				if n := told(b.announcements(w), NoticeClockStepped); n != 1 {
					t.Errorf("it was told %d times", n)
				}
				timeline, err := b.hub.Record().Timeline(t.Context())
				if err != nil {
					t.Fatal(err)
				}
				if got, _ := timeline.Wall(b.hub.loop.core.moment(s.At)); got.Sub(s.Wall).Abs() > time.Second {
					t.Errorf("the record takes this moment for %s, it is %s", got, s.Wall)
				}
			})
		})
	}
}
