package hub

import (
	"testing"
	"testing/synctest"
	"time"

	"simmerline/rules"
)

// A screen that takes nothing any more calls nobody, whatever it said when it came.
func TestHungStationIsNobodyToCall(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		b.sound.mu.Lock()
		b.sound.cannot = true
		b.sound.mu.Unlock()
		w, err := b.hub.Watch(t.Context(), WatchOptions{Station: true})
		if err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		hot := map[string]float64{"hot": 60, "h2s": 0}
		for range 20 {
			b.read(1, hot)
			b.announcements(w)
		}
		if got := b.alarm("nobody-to-call").State; got != rules.Normal || b.hub.Snapshot().Stations != 1 {
			t.Fatalf("with a station that listens: %s, %d stations", got, b.hub.Snapshot().Stations)
		}
		b.read(20, hot)
		if got := b.alarm("nobody-to-call").State; got != rules.Unacknowledged || b.hub.Snapshot().Stations != 0 {
			t.Errorf("with a station that hangs: %s, %d stations", got, b.hub.Snapshot().Stations)
		}
		for range 10 {
			b.announcements(w)
			b.read(1, hot)
		}
		if got := b.hub.Snapshot().Stations; got != 1 {
			t.Errorf("once it listens again there are %d stations", got)
		}
	})
}

func TestStationThatWasCutOffIsNobodyToCall(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		w, err := b.hub.Watch(t.Context(), WatchOptions{Station: true})
		if err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		for range eventRoom + 1 {
			if _, err := b.hub.Mark(t.Context(), "stirred", "Ilo"); err != nil {
				t.Fatal(err)
			}
		}
		time.Sleep(time.Second)
		synctest.Wait()
		if got := b.hub.Snapshot().Stations; got != 0 {
			t.Errorf("%d stations", got)
		}
	})
}

func TestSilentHubDoesNotSayThatItSounds(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		for _, cannot := range []bool{false, true} {
			b.sound.mu.Lock()
			b.sound.cannot = cannot
			b.sound.mu.Unlock()
			b.read(2, map[string]float64{"hot": 60, "h2s": 6})
			if got := b.hub.Snapshot().Sound.Now; (got == rules.Danger) == cannot {
				t.Errorf("a hub that can't sound (%v) says that it sounds %s", cannot, got)
			}
		}
	})
}
