package rules

import "time"

// alarmState is one rule with where its alarm stands.
type alarmState struct {
	rule       Rule
	conditions []*conditionState
	coveredBy  *alarmState // the alarm that speaks for this one, when it is true
	state      State
	// active is the condition with its delays. holding tells that the condition
	// is on its way to change it, since heldSince.
	active    bool
	holding   bool
	heldSince time.Duration
	found     truth // the condition itself, as of the last step

	hiddenTrue bool
	led        int // the condition that made it true, of several
	trigger    Trigger
	firstOut   int
	raisedAt   time.Duration // when the condition last became active
	changedAt  time.Duration // when the state last changed
	soundedAt  time.Duration // when it last began to sound
	ackBy      string
	ackWhy     string
	ackAt      time.Duration
}

func (a *alarmState) situation() situation {
	return situation{active: a.active, latching: a.rule.Latching, hiddenTrue: a.hiddenTrue,
		quiet: a.rule.Priority == Caution}
}

// stepping is one step under way.
type stepping struct {
	e      *Engine
	now    time.Duration
	events []Event
	told   int // events that have their sentences
}

// settle lets every bath and alarm follow what has been taken in.
func (s *stepping) settle() {
	s.e.updateBaths()
	s.evaluate()
	if !s.e.inUse && (s.e.AnyHot() || s.e.anyGas()) {
		s.e.inUse = true // heat or gas ends 'put away' by itself
		s.evaluate()
	}
	if !s.e.anyRaised() {
		s.e.firstOut = 0
	}
	s.tell()
}

// evaluate judges every alarm at this moment.
func (s *stepping) evaluate() {
	for _, a := range s.e.alarms {
		s.judge(a)
	}
	for _, a := range s.e.alarms {
		s.follow(a)
	}
}

// judge finds whether an alarm's condition holds and moves its delays on.
func (s *stepping) judge(a *alarmState) {
	found, led := no, 0
	for i, c := range a.conditions {
		c.evaluate(s.now, a.rule.Deadband, s.e)
		if c.found == yes && found != yes {
			led = i
		}
		if c.found == yes || c.found == unknown && found == no {
			found = c.found
		}
	}
	a.found = found
	if found == yes || !a.active {
		a.led = led // while it clears, the figure of what made it true goes on moving
	}
	a.trigger = a.conditions[a.led].trigger
	switch {
	case found == unknown && a.active:
		a.holding = false // clearing needs evidence without a break
	case found == unknown:
		// raising keeps what it has counted, but ends only on a yes
	case (found == yes) == a.active:
		a.holding = false
	case !a.holding:
		a.holding, a.heldSince = true, s.now
	}
	if a.holding && found != unknown && s.now-a.heldSince >= a.delay() {
		a.active, a.holding = !a.active, false
	}
}

// delay is how long the condition must go on to change what is active.
func (a *alarmState) delay() time.Duration {
	if a.active {
		return a.rule.OffDelay
	}
	return a.rule.OnDelay
}

// follow moves an alarm's state after its condition.
func (s *stepping) follow(a *alarmState) {
	covered := a.rule.WhileInUse && !s.e.inUse || a.coveredBy.speaks()
	switch {
	case covered:
		// A latching alarm that stands is not reset by being hidden.
		a.hiddenTrue = a.hiddenTrue || a.rule.Latching && a.state.Stands()
		s.change(a, suppress, CauseSuppressed)
	case a.state == SuppressedByDesign:
		s.change(a, unsuppress, CauseUnsuppressed)
		a.hiddenTrue = false
	}
	switch {
	case a.state.hidden():
		a.hiddenTrue = a.hiddenTrue || a.active
	case a.active:
		s.change(a, conditionTrue, CauseRaised)
		s.soundAgain(a)
	default:
		s.change(a, conditionFalse, CauseCleared)
		s.soundAgain(a)
	}
}

// speaks says whether the alarm is true, or about to be, or to cease to be, so
// that alarms of the same cause may be silent.
func (a *alarmState) speaks() bool {
	return a != nil && (a.found == yes || a.active) && a.state != Shelved && a.state != OutOfService
}

// soundAgain brings back an alarm that has been left alone for too long, or
// has become worse than it was when somebody acknowledged it.
func (s *stepping) soundAgain(a *alarmState) {
	after := s.e.setup.ReAlarmAfter
	switch {
	case a.rule.Priority < Warning:
	case a.state == Acknowledged && a.worsened():
		s.change(a, reAlarm, CauseWorsened)
	case a.state == Acknowledged && a.rule.Priority == Danger && s.now-a.ackAt >= after:
		s.change(a, reAlarm, CauseSoundsAgain)
	case a.state.Sounds() && s.now-a.soundedAt >= after:
		s.emit(a, a.state, CauseSoundsAgain)
		a.soundedAt = s.now
	}
}

// change sends an alarm a signal and tells of it when the state moves.
func (s *stepping) change(a *alarmState, sig signal, cause Cause) {
	from := a.state
	to := from.next(sig, a.situation())
	if to == from {
		return
	}
	if to == Unacknowledged {
		if cause == CauseRaised || cause == CauseUnsuppressed {
			s.e.firstOut++
			a.firstOut, a.raisedAt = s.e.firstOut, s.now
			a.forgetAcknowledged()
		}
		a.soundedAt = s.now
	}
	if to == Unacknowledged || to == Normal {
		a.ackBy, a.ackWhy = "", ""
	}
	a.state, a.changedAt = to, s.now
	s.emit(a, from, cause)
	if to == Normal {
		a.firstOut = 0
	}
}

// emit tells of an alarm. Its sentence is filled in by tell, when it is known
// what else stands.
func (s *stepping) emit(a *alarmState, from State, cause Cause) {
	s.events = append(s.events, Event{
		At: s.now, Alarm: a.rule.Name, From: from, To: a.state, Cause: cause,
		Priority: a.rule.Priority, Class: a.rule.Class, Subject: a.rule.Subject,
		Trigger: a.trigger, FirstOut: a.firstOut,
	})
}

// tell says of each new event what is to be said of it now.
func (s *stepping) tell() {
	if s.told == len(s.events) {
		return
	}
	away := s.e.KeepsAway()
	for ; s.told < len(s.events); s.told++ {
		event := &s.events[s.told]
		if a := s.e.alarm(event.Alarm); a != nil {
			event.Sentence = s.e.says(a, away).Sentence()
		}
	}
}
