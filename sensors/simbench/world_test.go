package simbench

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// However a stretch of story is cut into calls, and whatever is looked at in
// between, the world comes out the same to the bit.
func TestTheWorldDoesNotMindHowItIsAdvanced(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		scenario := rapid.SampledFrom(Scenarios()).Draw(t, "scenario")
		end := time.Duration(rapid.Int64Range(0, int64(70*time.Minute)).Draw(t, "end"))
		whole := mustBench(t, scenario, seed)
		want := whole.look(end)

		cut := mustBench(t, scenario, seed)
		var at time.Duration
		for range rapid.IntRange(0, 20).Draw(t, "cuts") {
			at += time.Duration(rapid.Int64Range(-int64(Step), int64(5*time.Minute)).Draw(t, "stride"))
			if at > end {
				break
			}
			cut.look(max(at, 0))
		}
		if got := cut.look(end); got != want {
			t.Fatalf("in pieces %+v, at once %+v", got, want)
		}
		if whole.world.Now() != cut.world.Now() || whole.world.baths != cut.world.baths || whole.world.air != cut.world.air {
			t.Fatal("the worlds differ behind what can be seen")
		}
	})
}

func mustBench(t *rapid.T, s Scenario, seed uint64) *Bench {
	b, err := NewBench(s, yard, seed)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestAnotherSeedGivesAnotherWorld(t *testing.T) {
	a, b := NewWorld(1, yard, Start{}), NewWorld(2, yard, Start{})
	a.Advance(time.Minute)
	b.Advance(time.Minute)
	if *a.at(time.Minute) == *b.at(time.Minute) {
		t.Error("two seeds, one world")
	}
}

// A device may look back while another has moved the world on.
func TestTheWorldRemembersWhatCouldBeSeen(t *testing.T) {
	w := NewWorld(3, yard, Start{})
	must(t, w, Dial{HotSulfide, dialFull})
	var seen []view
	for at := time.Duration(0); at <= time.Minute; at += Step {
		w.Advance(at)
		seen = append(seen, *w.at(at))
	}
	for i, want := range seen {
		if got := *w.at(time.Duration(i) * Step); got != want {
			t.Fatalf("at step %d it was %+v, and is remembered as %+v", i, want, got)
		}
	}
	if *w.at(time.Hour) != *w.at(time.Minute) {
		t.Error("the world tells what has not happened yet")
	}
}

func TestTheFanProvesItselfAndCarriesOn(t *testing.T) {
	w := NewWorld(1, yard, Start{FanOff: true})
	if w.at(0).airflow {
		t.Error("airflow without a fan")
	}
	must(t, w, Fan{On: true})
	w.Advance(10 * time.Second)
	if !w.at(w.Now()).airflow {
		t.Error("no airflow 10 s after the fan was switched on")
	}
	must(t, w, Breaker{On: false})
	w.Advance(20 * time.Second)
	if v := w.at(w.Now()); v.airflow || v.power {
		t.Error("airflow or power behind a tripped breaker")
	}
}

func TestAFreshlyPoweredHeadIsFarOffUntilItHasWarmedUp(t *testing.T) {
	w := NewWorld(1, yard, Start{})
	if v := w.at(0).ppm; v[gasH2S] < 2 || v[gasNH3] > -2 {
		t.Errorf("just powered up the cells read %.2f", v)
	}
	w.Advance(2 * time.Minute)
	if v := w.at(w.Now()).ppm; v[gasH2S] > 0.3 || v[gasNH3] < -1 {
		t.Errorf("two minutes later the cells read %.2f", v)
	}
	must(t, w, Breaker{On: false})
	w.Advance(6 * time.Minute)
	must(t, w, Breaker{On: true})
	if v := w.at(w.Now()).ppm; v[gasH2S] < 2 {
		t.Errorf("after a power cut the cells read %.2f", v)
	}
}
