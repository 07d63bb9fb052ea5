package review

import (
	"simmerline/hub/record"
	"simmerline/rules"
)

// Alarm is what became of one raising of an alarm.
type Alarm struct {
	Alarm    string `json:"alarm"`
	Subject  string `json:"subject"`
	Priority string `json:"priority"`
	Class    string `json:"class"`
	// Sentence is what was said of it when it was raised.
	Sentence string `json:"sentence"`
	// Raised is null where it was raised before the stretch.
	Raised *Point `json:"raised"`
	// Cleared is when its condition was no longer so.
	Cleared         *Point `json:"cleared"`
	Acknowledged    *Point `json:"acknowledged"`
	AcknowledgedBy  string `json:"acknowledged_by"`
	AcknowledgedWhy string `json:"acknowledged_why"`
	Reset           *Point `json:"reset"`
	ResetBy         string `json:"reset_by"`
	// Stands says that it still stood at the end of the stretch.
	Stands bool `json:"stands"`
}

// alarms groups the events into raisings, in the order in which they were raised.
func (v *view) alarms(s *Summary, _ Bench) error {
	var all []*Alarm
	standing := map[string][]*Alarm{} // the raisings of each alarm since it last was normal
	for event, err := range v.source.Events(v.ctx, v.within) {
		if err != nil {
			return err
		}
		if event.Alarm == "" { // a notice, not an alarm
			continue
		}
		from, _ := rules.ParseState(event.From)
		to, _ := rules.ParseState(event.To)
		raised := raises(event, from, to)
		if raised || len(standing[event.Alarm]) == 0 && from.Stands() {
			alarm := &Alarm{
				Alarm: event.Alarm, Subject: event.Subject, Sentence: event.Sentence,
				Priority: rules.Priority(event.Priority).String(), Class: rules.Class(event.Class).String(),
			}
			if raised {
				alarm.Raised = v.at(event)
			}
			all = append(all, alarm)
			standing[event.Alarm] = append(standing[event.Alarm], alarm)
		}
		v.follows(standing[event.Alarm], event)
		if !to.Stands() {
			delete(standing, event.Alarm)
		}
	}
	s.Alarms = []Alarm{}
	for _, raisings := range standing {
		raisings[len(raisings)-1].Stands = true
	}
	for _, alarm := range all {
		s.Alarms = append(s.Alarms, *alarm)
	}
	return nil
}

// raises says whether an event is a raising: the alarm comes to stand, or its
// condition is true again while it still stands.
func raises(event record.Event, from, to rules.State) bool {
	return to.Stands() && (!from.Stands() || event.Cause == rules.CauseRaised.String())
}

// follows notes on an alarm's raisings what an event says of them.
func (v *view) follows(raisings []*Alarm, event record.Event) {
	for i, alarm := range raisings {
		switch event.Cause {
		case rules.CauseCleared.String():
			if i == len(raisings)-1 {
				alarm.Cleared = v.at(event)
			}
		case rules.CauseAcknowledged.String():
			if alarm.Acknowledged == nil {
				alarm.Acknowledged, alarm.AcknowledgedBy, alarm.AcknowledgedWhy = v.at(event), event.By, event.Why
			}
		case rules.CauseReset.String():
			alarm.Reset, alarm.ResetBy = v.at(event), event.By
		}
	}
}

func (v *view) at(event record.Event) *Point {
	point := v.point(event.Moment)
	return &point
}
