package rules

import (
	"strings"
	"testing"
	"time"

	"simmerline/sensors"
)

// asksNear are the words by which a sentence would bring somebody to the bench.
var asksNear = []string{
	"turn the", "turn its", "turn it", "check the", "check its", "stay in sight", "stir", "lift", "look at", "go to",
}

// withOwnRule is the studio with a rule whose words were written by its user,
// and which would send somebody to the bench.
func withOwnRule() Setup {
	s := studio()
	s.Rules = []Rule{{
		Name: "rinse-warm", Any: []Condition{{Kind: Above, Bath: "rinse", Setpoint: 30}},
		Priority: Warning, Class: EverythingElse, Subject: "rinse",
		Words: Words{Means: "go to it and stir", Do: "Go to the bench and stir the rinse.", NearBench: true, Own: true},
	}}
	return s
}

// Every pair of alarms, in every pair of states in which an alarm may stand
// with its condition true: the class decides who speaks, and while one of the
// first two classes stands, no text of any alarm asks anybody to the bench.
func TestPrecedenceOverEveryPairOfAlarms(t *testing.T) {
	setup := withOwnRule()
	count, err := setup.merged()
	if err != nil {
		t.Fatal(err)
	}
	pairs := 0
	for i := range count {
		for j := i + 1; j < len(count); j++ {
			for _, si := range []State{Unacknowledged, Acknowledged, Shelved, OutOfService} {
				for _, sj := range []State{Unacknowledged, Acknowledged, Shelved, OutOfService} {
					e, err := New(setup, 0)
					if err != nil {
						t.Fatal(err)
					}
					a, b := e.alarms[i], e.alarms[j]
					a.state, a.active, a.found, a.firstOut = si, true, yes, 1
					b.state, b.active, b.found, b.firstOut = sj, true, yes, 2
					checkPair(t, e, a, b)
					pairs++
				}
			}
		}
	}
	if want := len(count) * (len(count) - 1) / 2 * 16; pairs != want {
		t.Errorf("checked %d pairs, want %d", pairs, want)
	}
}

func checkPair(t *testing.T, e *Engine, a, b *alarmState) {
	t.Helper()
	view := e.View()
	away := a.rule.Class.KeepsAway() || b.rule.Class.KeepsAway()
	if view.Advice.KeepAway != away {
		t.Fatalf("%s and %s: keep away is %v, want %v", a.rule.Name, b.rule.Name, view.Advice.KeepAway, away)
	}
	if away {
		for _, text := range texts(view) {
			if word := nearWord(text); word != "" {
				t.Errorf("%s (%s) and %s (%s): %q asks somebody to the bench: %q",
					a.rule.Name, a.state, b.rule.Name, b.state, text, word)
			}
		}
	}
	var speaker *alarmState
	for _, x := range []*alarmState{a, b} {
		if x.state.Stands() && (speaker == nil || x.rule.Class < speaker.rule.Class) {
			speaker = x
		}
	}
	if speaker == nil {
		if view.Advice.Headline != HeadlineNoAlarm {
			t.Errorf("two hidden alarms: got %s", view.Advice.Headline)
		}
		return
	}
	spoke := e.alarm(view.Advice.Alarm)
	if spoke == nil || spoke.rule.Class != speaker.rule.Class {
		t.Errorf("%s and %s: %q speaks, want one of class %s", a.rule.Name, b.rule.Name, view.Advice.Alarm, speaker.rule.Class)
	}
	if speaker.rule.Class.KeepsAway() && view.Advice.Headline != HeadlineLeave {
		t.Errorf("%s stands: headline %s, want %s", speaker.rule.Name, view.Advice.Headline, HeadlineLeave)
	}
}

// texts is everything that a screen could show.
func texts(v View) []string {
	all := []string{v.Advice.Sentence}
	for _, a := range v.Alarms {
		if a.State != Normal {
			all = append(all, a.Saying.Sentence())
		}
	}
	return all
}

func nearWord(text string) string {
	for _, word := range asksNear {
		if strings.Contains(strings.ToLower(text), word) {
			return word
		}
	}
	return ""
}

// Every sentence that asks somebody to the bench is marked as such, so that the
// test above sees all there are; and what is said instead never does.
func TestWordsThatAskSomebodyToTheBenchAreMarked(t *testing.T) {
	rules, err := withOwnRule().merged()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rules {
		w := r.Words
		if word := nearWord(w.Do); (word != "") != w.NearBench {
			t.Errorf("%s: NearBench is %v, and %q holds %q", r.Name, w.NearBench, w.Do, word)
		}
		for _, text := range []string{w.DoAway, w.Still, w.Cleared, w.Over} {
			if word := nearWord(text); word != "" {
				t.Errorf("%s: %q asks somebody to the bench: %q", r.Name, text, word)
			}
		}
		if !w.Own && w.DoAway == "" {
			t.Errorf("%s says nothing while the fumes come first", r.Name)
		}
		for _, text := range []string{w.Means, w.Do, w.DoAway, w.Still, w.Cleared, w.Over} {
			for _, forbidden := range []string{"safe", "all well", "all clear"} {
				if strings.Contains(strings.ToLower(text), forbidden) {
					t.Errorf("%s: %q says %q", r.Name, text, forbidden)
				}
			}
		}
		if r.Class.KeepsAway() && w.NearBench {
			t.Errorf("%s: a fume alarm asks somebody to the bench", r.Name)
		}
	}
}

// arrange gives the readings that make a rule's first condition true.
func arrange(c Condition, setup Setup) (map[string]sensors.Reading, Facts) {
	facts := Facts{CanCall: true}
	good := func(q sensors.Quantity, v float64) sensors.Reading {
		return sensors.Reading{Value: sensors.MustValue(q, v), Quality: sensors.QualityGood}
	}
	made := make(map[string]sensors.Reading)
	hot := func() { made["hot"] = good(sensors.Temperature, 80) }
	if c.Bath != "" {
		probe := ""
		for _, b := range setup.Baths {
			if b.Name == c.Bath {
				probe = b.Probes[0]
			}
		}
		value := c.Setpoint + 0.1
		if c.Kind == BoiledDry {
			value += float64(setup.Boiling)
		}
		made[probe] = good(sensors.Temperature, value)
	}
	switch c.Kind {
	case Above:
		if c.Channel != "" {
			made[c.Channel] = good(sensors.GasLevel, c.Setpoint+0.1)
		}
	case AboveWhileHot:
		hot()
		made[c.Channel] = good(sensors.GasLevel, c.Setpoint+0.1)
	case OpenWhileHot:
		hot()
		made[c.Channel] = good(sensors.Contact, 0)
	case LostWhileHot:
		hot()
		made[c.Channel] = sensors.Reading{Quality: sensors.QualityBad, Reason: sensors.ReasonDeviceFault}
	case WarmingWhileHot:
		hot()
		made[c.Channel] = sensors.Reading{Value: sensors.MustValue(sensors.GasLevel, 0), Quality: sensors.QualityUncertain, Reason: sensors.ReasonWarmingUp}
	case NotTrustedWhileCool, Lost:
		made[c.Channel] = sensors.Reading{Quality: sensors.QualityBad, Reason: sensors.ReasonDeviceFault}
	case NobodyToCall:
		hot()
		facts.CanCall = false
	case RecordFailing:
		facts.RecordFails = "the disk is full"
	}
	return made, facts
}

// The same for every pair of alarms that can be brought about together by
// readings alone, through Step and all its delays.
func TestPrecedenceThroughReadings(t *testing.T) {
	setup := withOwnRule()
	rules, err := setup.merged()
	if err != nil {
		t.Fatal(err)
	}
	together := 0
	for i, ri := range rules {
		for _, rj := range rules[i+1:] {
			e, err := New(setup, 0)
			if err != nil {
				t.Fatal(err)
			}
			first, factsI := arrange(ri.Any[0], setup)
			second, factsJ := arrange(rj.Any[0], setup)
			facts := Facts{CanCall: factsI.CanCall && factsJ.CanCall, RecordFails: factsI.RecordFails + factsJ.RecordFails}
			for now := time.Second; now <= 30*time.Second; now += time.Second {
				in := Input{Facts: &facts}
				for _, c := range setup.Channels {
					in.Readings = append(in.Readings, pick(c, now, first, second))
				}
				if _, err := e.Step(now, in); err != nil {
					t.Fatal(err)
				}
			}
			a, b := e.alarm(ri.Name), e.alarm(rj.Name)
			if !a.active || !b.active || a.state.hidden() || b.state.hidden() {
				continue // these two exclude each other, or one speaks for the other
			}
			together++
			view := e.View()
			away := false
			for _, x := range e.alarms {
				away = away || x.active && x.rule.Class.KeepsAway()
			}
			if away {
				for _, text := range texts(view) {
					if word := nearWord(text); word != "" {
						t.Errorf("%s with %s: %q asks somebody to the bench: %q", ri.Name, rj.Name, text, word)
					}
				}
			}
			if got := e.alarm(view.Advice.Alarm).rule.Class; got > min(ri.Class, rj.Class) {
				t.Errorf("%s with %s: class %s speaks", ri.Name, rj.Name, got)
			}
		}
	}
	if together < 200 {
		t.Errorf("only %d pairs could be brought about together", together)
	}
}

func pick(c Channel, now time.Duration, sets ...map[string]sensors.Reading) sensors.Reading {
	value := 22.0
	switch c.Quantity {
	case sensors.GasLevel:
		value = 0
	case sensors.Contact:
		value = 1
	}
	r := sensors.Reading{Value: sensors.MustValue(c.Quantity, value), Quality: sensors.QualityGood}
	for _, set := range sets {
		if made, there := set[c.Name]; there {
			r = made
		}
	}
	r.Channel, r.At = c.Name, now
	return r
}
