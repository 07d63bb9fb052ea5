package rules

import (
	"encoding/json"
	"fmt"
	"time"
)

// savedVersion numbers the form of what Saved writes.
const savedVersion = 1

// saved is an engine's memory in a form that outlives the process. Times are
// ages, so that they mean the same under the next run's clock. What is missing
// means the careful thing: a bench in use, an alarm that is normal.
type saved struct {
	Version int           `json:"version"`
	PutAway bool          `json:"put_away,omitempty"`
	Dark    bool          `json:"dark_untold,omitempty"`
	DarkFor time.Duration `json:"dark_for_ns,omitempty"`
	Baths   []savedBath   `json:"baths,omitempty"`
	Raised  int           `json:"raised,omitempty"` // since none stood, for first-out
	Alarms  []savedAlarm  `json:"alarms,omitempty"`
}

type savedAlarm struct {
	Name       string           `json:"name"`
	State      string           `json:"state"`
	Active     bool             `json:"active,omitempty"`
	Holding    bool             `json:"holding,omitempty"`
	Held       time.Duration    `json:"held_ns,omitempty"`
	HiddenTrue bool             `json:"hidden_true,omitempty"`
	Led        int              `json:"led_by,omitempty"`
	FirstOut   int              `json:"first_out,omitempty"`
	Raised     time.Duration    `json:"raised_ago_ns"`
	Changed    time.Duration    `json:"changed_ago_ns"`
	Sounded    time.Duration    `json:"sounded_ago_ns"`
	Acked      time.Duration    `json:"acknowledged_ago_ns"`
	By         string           `json:"by,omitempty"`
	Why        string           `json:"why,omitempty"`
	Conditions []savedCondition `json:"conditions,omitempty"`
}

// savedBath is what is remembered of a bath: which probe last spoke for it, what
// it said in °C, and which probes agreed.
type savedBath struct {
	Name   string   `json:"name"`
	Hot    bool     `json:"hot,omitempty"`
	Lead   string   `json:"lead,omitempty"`
	Last   float64  `json:"last,omitempty"`
	Agreed []string `json:"agreed,omitempty"`
}

type savedCondition struct {
	Was      bool    `json:"was,omitempty"`
	Acked    bool    `json:"acknowledged,omitempty"`
	AckValue float64 `json:"acknowledged_value,omitempty"`
}

// Saved gives what must outlive the process: alarms that are not normal or on
// their way to be raised, which baths are hot, and whether the bench is put
// away. Readings are not part of it.
func (e *Engine) Saved() ([]byte, error) {
	s := saved{Version: savedVersion, PutAway: !e.inUse, Dark: e.darkUntold, DarkFor: e.darkFor, Raised: e.firstOut}
	for _, b := range e.baths {
		s.Baths = append(s.Baths, b.saved())
	}
	for _, a := range e.alarms {
		if a.state == Normal && !a.active && !a.holding && !a.wasTrue() {
			continue
		}
		old := savedAlarm{
			Name: a.rule.Name, State: a.state.String(), Active: a.active, HiddenTrue: a.hiddenTrue,
			Led: a.led, FirstOut: a.firstOut, Raised: e.now - a.raisedAt, Changed: e.now - a.changedAt,
			Sounded: e.now - a.soundedAt, Acked: e.now - a.ackAt, By: a.ackBy, Why: a.ackWhy,
		}
		if a.holding {
			old.Holding, old.Held = true, e.now-a.heldSince
		}
		for _, c := range a.conditions {
			old.Conditions = append(old.Conditions, savedCondition{Was: c.was, Acked: c.acked, AckValue: c.ackValue})
		}
		s.Alarms = append(s.Alarms, old)
	}
	return json.Marshal(s)
}

// wasTrue says whether any condition was true when last known.
func (a *alarmState) wasTrue() bool {
	for _, c := range a.conditions {
		if c.was {
			return true
		}
	}
	return false
}

// oldest bounds the ages that Restore believes, so that no sum of them leaves
// the range of a Duration.
const oldest = 10 * 365 * 24 * time.Hour

func credible(age time.Duration) time.Duration { return min(max(age, 0), oldest) }

// inSeconds makes 0, which is an unknown time in words, of what is hardly any.
func inSeconds(dark time.Duration) time.Duration { return credible(dark).Round(time.Second) }

// count makes a saved count one that can be counted on from.
func count(n int) int { return min(max(n, 0), 1<<30) }

// Restore takes up what Saved gave that long ago. dark is how long of it no hub
// was running, and 0 where that was too short to matter. It is called once,
// before the first step. Alarms of rules that no longer exist are dropped and
// named. Every reading is unknown, so that an alarm that was true stays true
// until a good reading says otherwise. A delay before raising goes on; one
// before clearing begins again, since its evidence has a gap. Where data can't be
// read a bath may have been hot.
func (e *Engine) Restore(data []byte, age, dark time.Duration) (dropped []string, err error) {
	var s saved
	e.darkUntold, e.darkFor = dark > 0, inSeconds(dark)
	if err := json.Unmarshal(data, &s); err != nil {
		return nil, fmt.Errorf("rules: the saved alarms can't be read: %w", err)
	}
	if s.Version != savedVersion {
		return nil, fmt.Errorf("rules: the saved alarms are of version %d, and this program reads %d", s.Version, savedVersion)
	}
	e.inUse = !s.PutAway
	wasHot := false
	for _, old := range s.Baths {
		wasHot = wasHot || old.Hot
		for _, b := range e.baths {
			if b.Name == old.Name {
				b.restore(old)
			}
		}
	}
	e.darkUntold, e.darkFor = s.Dark, credible(s.DarkFor)
	if dark > 0 && wasHot {
		e.darkUntold, e.darkFor = true, credible(dark)
	}
	e.firstOut = count(s.Raised)
	for _, old := range s.Alarms {
		a := e.alarm(old.Name)
		state, known := ParseState(old.State)
		if a == nil || !known {
			dropped = append(dropped, old.Name)
			continue
		}
		e.restore(a, state, old, credible(age))
	}
	return dropped, nil
}

func (e *Engine) restore(a *alarmState, state State, old savedAlarm, age time.Duration) {
	ago := func(before time.Duration) time.Duration { return e.now - age - credible(before) }
	a.active, a.hiddenTrue, a.firstOut = old.Active, old.HiddenTrue, count(old.FirstOut)
	if state == Shelved || state == OutOfService {
		// Nothing here shelves, so nothing would ever bring it back.
		state = a.situation().shown()
		a.hiddenTrue = false
	}
	a.state = state
	a.raisedAt, a.changedAt, a.soundedAt = ago(old.Raised), ago(old.Changed), ago(old.Sounded)
	a.ackAt, a.ackBy, a.ackWhy = ago(old.Acked), old.By, old.Why
	if old.Holding && !old.Active {
		a.holding, a.heldSince = true, ago(old.Held)
	}
	e.firstOut = max(e.firstOut, a.firstOut)
	a.led = min(max(old.Led, 0), len(a.conditions)-1)
	_, a.trigger = a.conditions[a.led].look(e.now, e)
	for i, c := range a.conditions {
		c.was = old.Active
		if len(old.Conditions) == len(a.conditions) {
			was := old.Conditions[i]
			c.was, c.acked, c.ackValue = was.Was, was.Acked, was.AckValue
		}
	}
}
