package rules

import (
	"encoding/json"
	"fmt"
	"time"
)

// savedVersion numbers the form of what Saved writes.
const savedVersion = 1

// saved is an engine's memory in a form that outlives the process. Times are
// ages, so that they mean the same under the next run's clock.
type saved struct {
	Version int          `json:"version"`
	InUse   bool         `json:"in_use"`
	Dark    bool         `json:"dark_untold,omitempty"`
	HotBath []string     `json:"hot_baths,omitempty"`
	Alarms  []savedAlarm `json:"alarms,omitempty"`
}

type savedAlarm struct {
	Name       string        `json:"name"`
	State      string        `json:"state"`
	Active     bool          `json:"active,omitempty"`
	HiddenTrue bool          `json:"hidden_true,omitempty"`
	FirstOut   int           `json:"first_out,omitempty"`
	Raised     time.Duration `json:"raised_ago_ns"`
	Changed    time.Duration `json:"changed_ago_ns"`
	Sounded    time.Duration `json:"sounded_ago_ns"`
	Acked      time.Duration `json:"acknowledged_ago_ns"`
	AckValue   float64       `json:"acknowledged_value,omitempty"`
	By         string        `json:"by,omitempty"`
	Why        string        `json:"why,omitempty"`
}

// Saved gives what must outlive the process: alarms that are not normal, which
// baths are hot, and whether the bench is in use. Readings are not part of it.
func (e *Engine) Saved() ([]byte, error) {
	s := saved{Version: savedVersion, InUse: e.inUse, Dark: e.darkUntold}
	for _, b := range e.baths {
		if b.hot {
			s.HotBath = append(s.HotBath, b.Name)
		}
	}
	for _, a := range e.alarms {
		if a.state == Normal && !a.active {
			continue
		}
		s.Alarms = append(s.Alarms, savedAlarm{
			Name: a.rule.Name, State: a.state.String(), Active: a.active, HiddenTrue: a.hiddenTrue,
			FirstOut: a.firstOut, Raised: e.now - a.raisedAt, Changed: e.now - a.changedAt,
			Sounded: e.now - a.soundedAt, Acked: e.now - a.ackAt, AckValue: a.ackValue,
			By: a.ackBy, Why: a.ackWhy,
		})
	}
	return json.Marshal(s)
}

// Restore takes up what Saved gave that long ago. dark is how long of it no hub
// was running, and 0 where that was too short to matter. It is called once,
// before the first step. Alarms of rules that no longer exist are dropped and
// named. Every reading is unknown, so that an alarm that was true stays true
// until a good reading says otherwise.
func (e *Engine) Restore(data []byte, age, dark time.Duration) (dropped []string, err error) {
	var s saved
	if err := json.Unmarshal(data, &s); err != nil {
		return nil, fmt.Errorf("rules: the saved alarms can't be read: %w", err)
	}
	if s.Version != savedVersion {
		return nil, fmt.Errorf("rules: the saved alarms are of version %d, and this program reads %d", s.Version, savedVersion)
	}
	e.inUse = s.InUse
	for _, b := range e.baths {
		for _, name := range s.HotBath {
			b.hot = b.hot || b.Name == name
		}
	}
	e.darkFor = dark
	e.darkUntold = s.Dark || dark > 0 && len(s.HotBath) > 0
	for _, old := range s.Alarms {
		a := e.alarm(old.Name)
		state, known := ParseState(old.State)
		if a == nil || !known {
			dropped = append(dropped, old.Name)
			continue
		}
		ago := func(before time.Duration) time.Duration { return e.now - age - before }
		a.state, a.active, a.hiddenTrue, a.firstOut = state, old.Active, old.HiddenTrue, old.FirstOut
		a.raisedAt, a.changedAt, a.soundedAt = ago(old.Raised), ago(old.Changed), ago(old.Sounded)
		a.ackAt, a.ackValue, a.ackBy, a.ackWhy = ago(old.Acked), old.AckValue, old.By, old.Why
		e.firstOut = max(e.firstOut, old.FirstOut)
		for _, c := range a.conditions {
			c.was = old.Active
		}
	}
	return dropped, nil
}
