package hub

import (
	"testing"
	"time"

	"simmerline/rules"
	"simmerline/sensors"
)

// A session is often opened before the plate is switched on.
func TestSessionOpenedOverColdBathsStaysOpen(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		b.read(900, map[string]float64{"hot": 22, "h2s": 0})
		if _, _, err := b.hub.StartSession(t.Context(), "blue ring", 0, "Maren"); err != nil {
			t.Fatal(err)
		}
		b.read(900, map[string]float64{"hot": 22, "h2s": 0})
		if b.hub.Snapshot().Session == nil {
			t.Fatal("it ended by itself before a bath had been warm")
		}
		b.read(60, map[string]float64{"hot": 60, "h2s": 0})
		b.read(500, map[string]float64{"hot": 30, "h2s": 0})
		if b.hub.Snapshot().Session == nil {
			t.Fatal("it ended before ten minutes had been cool")
		}
		b.read(200, map[string]float64{"hot": 30, "h2s": 0})
		if s := b.hub.Snapshot().Session; s != nil {
			t.Errorf("it did not end after the baths had cooled: %+v", s)
		}
	})
}

// bathAt is a bath as the tracker sees it.
func bathAt(name string, at time.Duration, c float64) rules.BathView {
	value, err := sensors.NewValue(sensors.Temperature, c)
	if err != nil {
		panic(err)
	}
	return rules.BathView{
		Bath:    rules.Bath{Name: name},
		Reading: sensors.Reading{At: at, Value: value, Quality: sensors.QualityGood},
		Hot:     c >= float64(rules.HotAt),
	}
}

// A room that warms through the day by more than the four kelvin is no work.
func TestDriftOfTheRoomBeginsNoSession(t *testing.T) {
	tracker := newSessionTracker()
	for at := time.Duration(0); at < 6*time.Hour; at += time.Second {
		c := 14 + 12*at.Hours()/6
		if begin, from, _ := tracker.update(at, []rules.BathView{bathAt("rinse", at, c)}); begin {
			t.Fatalf("a session began at %s, from %s, over %.1f °C", at, from, c)
		}
	}
}

// A weak plate under a large bath takes a while, and is work all the same.
func TestSlowWarmingBeginsASession(t *testing.T) {
	tracker := newSessionTracker()
	for at := time.Duration(0); at < time.Hour; at += time.Second {
		c := 20 + max(0, 0.25*(at.Minutes()-10))
		if begin, from, _ := tracker.update(at, []rules.BathView{bathAt("soda", at, c)}); begin {
			if from < 10*time.Minute || from > 13*time.Minute {
				t.Errorf("it begins at %s, want where the rise began, 10 min", from)
			}
			return
		}
	}
	t.Error("no session began")
}

// A probe that is lost while its bath is hot says nothing of its cooling.
func TestLostProbeDoesNotEndASession(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		b.read(5, map[string]float64{"hot": 22, "h2s": 0})
		b.read(60, map[string]float64{"hot": 60, "h2s": 0})
		b.read(1200, map[string]float64{"h2s": 0})
		if b.hub.Snapshot().Session == nil {
			t.Error("it ended while nobody knew how hot the bath is")
		}
		b.read(700, map[string]float64{"hot": 25, "h2s": 0})
		if b.hub.Snapshot().Session != nil {
			t.Error("it did not end once the bath was known to be cool")
		}
	})
}
