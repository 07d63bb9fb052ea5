package hub

import (
	"testing"
	"time"

	"simmerline/hub/notify"
)

// told counts the notices of a kind among announcements.
func told(all []Announcement, kind NoticeKind) (n int) {
	for _, a := range all {
		if a.Notice != nil && a.Notice.Kind == kind {
			n++
		}
	}
	return n
}

// The soft tone says: come, it is ready. Nobody is to come into fumes.
func TestNobodyIsCalledToAReadyBathInFumes(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		w, err := b.hub.Watch(t.Context(), WatchOptions{})
		if err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		b.read(5, map[string]float64{"hot": 45, "h2s": 0})
		b.read(1, map[string]float64{"hot": 45, "h2s": 6})
		if _, _, err := b.hub.Acknowledge(t.Context(), "fume-h2s-danger", "Maren", ""); err != nil {
			t.Fatal(err)
		}
		b.sound.mu.Lock()
		b.sound.levels = nil
		b.sound.mu.Unlock()
		for range 30 {
			b.read(1, map[string]float64{"hot": 60, "h2s": 4.5})
		}
		if n := told(b.announcements(w), NoticeInRange); n != 0 {
			t.Errorf("it was told %d times while the fumes stood", n)
		}
		b.sound.mu.Lock()
		defer b.sound.mu.Unlock()
		for _, level := range b.sound.levels {
			if level == notify.Notice {
				t.Error("the soft tone sounded while the fumes stood")
			}
		}
	})
}

// A hub that starts over a bath just short of its range has seen it outside.
func TestBathIsToldThoughTheHubStartedJustBefore(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		w, err := b.hub.Watch(t.Context(), WatchOptions{})
		if err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		b.read(5, map[string]float64{"hot": 53, "h2s": 0})
		b.read(30, map[string]float64{"hot": 56, "h2s": 0})
		if n := told(b.announcements(w), NoticeInRange); n != 1 {
			t.Errorf("it was told %d times, want once", n)
		}
	})
}

// A probe that is heard again after a while has not proved what it did meanwhile.
func TestRangeMustHoldWithoutABreak(t *testing.T) {
	var w rangeWatch
	low := bathAt("hot", 0, 40)
	low.RangeLow, low.RangeHigh = 55, 75
	in, lost := low, low
	in.Reading = bathAt("hot", 0, 60).Reading
	lost.Reading.Quality = 0
	w.due(0, low)
	w.due(time.Second, in)
	w.due(2*time.Second, lost)
	if w.due(time.Minute, in) {
		t.Error("it was told at the first word after a minute of silence")
	}
	if !w.due(time.Minute+settledFor, in) {
		t.Error("it was not told once it had settled")
	}
}

func TestNoChimeWhereTheEdgeFlickers(t *testing.T) {
	var w rangeWatch
	chimes := 0
	for at := time.Duration(0); at < time.Hour; at += time.Second {
		b := bathAt("hot", at, 55)
		b.RangeLow, b.RangeHigh = 55, 75
		c := 40.0
		if at > time.Minute {
			c = 55 + 2.5*float64(1-2*(int(at.Seconds())/15%2)) // 15 s within, 15 s without
		}
		b.Reading = bathAt("hot", at, c).Reading
		if w.due(at, b) {
			w.told()
			chimes++
		}
	}
	if chimes != 1 {
		t.Errorf("%d chimes, want one", chimes)
	}
}
