package rules

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"simmerline/sensors"
)

// Whatever happens to a bench, in whatever order: an alarm's story has no gap,
// no danger that is true is silent unless somebody or a design made it so, no
// latch opens by itself, and no words send anybody to the bench in fumes.
func TestNoStoryBreaksTheInvariants(t *testing.T) {
	setup := storyBench()
	causes := make(map[Cause]int)
	raised := make(map[string]int)
	rapid.Check(t, func(rt *rapid.T) {
		e := mustNew(t, setup, 0)
		states := make(map[string]State)
		now := time.Duration(0)
		for _, m := range drawStory(rt, setup) {
			now += m.after
			events, _ := e.Step(now, m.input(e, now))
			for _, event := range events {
				causes[event.Cause]++
				if event.Cause == CauseRaised {
					raised[event.Alarm]++
				}
				checkEvent(rt, e, states, event)
			}
			checkBench(rt, e)
			for _, a := range e.alarms {
				if a.state != states[a.rule.Name] {
					rt.Fatalf("%v: %s is %s, and its events say %s", now, a.rule.Name, a.state, states[a.rule.Name])
				}
			}
		}
	})
	for _, c := range Causes {
		if causes[c] == 0 {
			t.Errorf("no story had an event with cause %s", c)
		}
	}
	for _, name := range []string{"fume-h2s-danger", "fume-head-lost", "airflow-lost", "hot-sulfide-danger", "hot-twin-lost", "odd", "scorched-bath"} {
		if raised[name] == 0 {
			t.Errorf("no story raised %s", name)
		}
	}
}

func checkEvent(t *rapid.T, e *Engine, states map[string]State, event Event) {
	a := e.alarm(event.Alarm)
	if was := states[event.Alarm]; event.From != was {
		t.Fatalf("%s: leaves %s, and was in %s", inShort(event), event.From, was)
	}
	states[event.Alarm] = event.To
	if event.From == event.To && event.Cause != CauseSoundsAgain {
		t.Fatalf("%s: nothing has changed", inShort(event))
	}
	stood := event.From.Stands()
	if a.rule.Latching && stood && event.To == Normal &&
		event.Cause != CauseReset && !(event.From == RTNUnacknowledged && event.Cause == CauseAcknowledged) {
		t.Fatalf("%s: a latching alarm cleared without a reset", inShort(event))
	}
	if event.Sentence == "" {
		t.Fatalf("%s: no sentence", inShort(event))
	}
	if event.Trigger.Value.Known() && (event.Trigger.Reason == sensors.ReasonSilent || event.Trigger.Reason == sensors.ReasonUnplugged) {
		t.Fatalf("%s: a figure from a lost channel", inShort(event))
	}
}

func checkBench(t *rapid.T, e *Engine) {
	view := e.View()
	sounding := false
	for _, a := range e.alarms {
		active := a.active && a.rule.Priority == Danger
		quiet := a.state == Acknowledged || a.state.hidden()
		if active && !quiet && !a.state.Sounds() {
			t.Fatalf("%v: %s is true and silent in %s", e.now, a.rule.Name, a.state)
		}
		sounding = sounding || active && a.state.Sounds()
		if a.state == SuppressedByDesign && !(a.rule.WhileInUse && !e.inUse || a.coveredBy.speaks()) {
			t.Fatalf("%v: %s is suppressed, and by no design", e.now, a.rule.Name)
		}
		if a.state.Stands() && a.active != (a.state == Unacknowledged || a.state == Acknowledged) {
			t.Fatalf("%v: %s is %s with a condition that is %v", e.now, a.rule.Name, a.state, a.active)
		}
		if a.rule.Class.KeepsAway() && (a.active || a.state.latched()) && !view.Advice.KeepAway {
			t.Fatalf("%v: %s is %s, and somebody may go near", e.now, a.rule.Name, a.state)
		}
	}
	if sounding && e.Sounding() != Danger {
		t.Fatalf("%v: a danger sounds, and the engine says %s", e.now, e.Sounding())
	}
	if !e.inUse && (e.AnyHot() || e.anyGas()) {
		t.Fatalf("%v: put away with heat or gas", e.now)
	}
	if view.Advice.KeepAway {
		for _, text := range texts(view) {
			if word := nearWord(text); word != "" {
				t.Fatalf("%v: %q asks somebody to the bench: %q", e.now, text, word)
			}
		}
	}
	for _, b := range view.Baths {
		if b.Reading.Quality == sensors.QualityBad && b.Reading.Value.Known() {
			t.Fatalf("%v: %s shows %s though it is bad", e.now, b.Name, b.Reading.Value)
		}
	}
	for _, c := range view.Channels {
		if c.Age < 0 && c.Age != neverHeard {
			t.Fatalf("%v: %s was heard %v ago", e.now, c.Name, c.Age)
		}
	}
}

// A restart at any moment is no more than a sleep at that moment: whatever comes
// later, every alarm stands as it would have.
func TestRestartIsNoMoreThanASleep(t *testing.T) {
	setup := storyBench()
	standing := 0
	rapid.Check(t, func(rt *rapid.T) {
		kept := mustNew(t, setup, time.Duration(rapid.Int64Range(0, int64(time.Hour)).Draw(rt, "start")))
		play(kept, drawStory(rt, setup), false, false)
		data, err := kept.Saved()
		if err != nil {
			rt.Fatal(err)
		}
		restarted := mustNew(t, setup, kept.Now())
		if dropped, err := restarted.Restore(data, 0, 0); err != nil || len(dropped) > 0 {
			rt.Fatalf("dropped %q, error %v", dropped, err)
		}
		if !restarted.inUse != !kept.inUse || restarted.AnyHot() != kept.AnyHot() {
			rt.Fatalf("in use %v, hot %v; was %v, %v", restarted.inUse, restarted.AnyHot(), kept.inUse, kept.AnyHot())
		}
		sameAlarms(rt, kept, restarted)
		if kept.anyRaised() {
			standing++
		}
		// The restarted engine does not know what the hub knows: ports and facts.
		facts := kept.facts
		awake := moment{in: Input{Slept: true, Facts: &facts}}
		for _, c := range setup.Channels {
			awake.in.Ports = append(awake.in.Ports, PortChange{Port: c.Port})
		}
		for _, m := range append([]moment{awake}, drawStory(rt, setup)...) {
			want, _ := play(kept, []moment{m}, false, false)
			got, _ := play(restarted, []moment{m}, false, false)
			sameEvents(rt, "restarted", want, got, 0)
			sameAlarms(rt, kept, restarted)
		}
	})
	if standing < 10 {
		t.Errorf("alarms stood at only %d of the restarts", standing)
	}
}

func sameAlarms(t *rapid.T, want, got *Engine) {
	for i, w := range want.alarms {
		g := got.alarms[i]
		if w.state != g.state || w.active != g.active || w.state.Stands() && w.firstOut != g.firstOut {
			t.Fatalf("%v: %s is %s, active %v; without the restart %s, active %v",
				want.now, w.rule.Name, g.state, g.active, w.state, w.active)
		}
	}
}
