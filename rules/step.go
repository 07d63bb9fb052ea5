package rules

import (
	"time"

	"simmerline/sensors"
)

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
	trigger    Trigger
	firstOut   int
	raisedAt   time.Duration // when the condition last became active
	changedAt  time.Duration // when the state last changed
	soundedAt  time.Duration // when it last began to sound
	ackValue   float64       // the value when it was acknowledged
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
	found := no
	var trigger Trigger
	for i, c := range a.conditions {
		t, by := c.evaluate(s.now, a.rule.Deadband, s.e)
		if t == yes && found != yes || i == 0 {
			trigger = by
		}
		if t == yes || t == unknown && found == no {
			found = t
		}
	}
	a.found = found
	if found == yes || !a.active {
		a.trigger = trigger
	} else {
		// While it clears, the figure goes on moving under the same setpoint.
		a.trigger.Value, a.trigger.Reason, a.trigger.At = trigger.Value, trigger.Reason, trigger.At
	}
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
	}
}

// speaks says whether the alarm is true, or about to be, or to cease to be, so
// that alarms of the same cause may be silent.
func (a *alarmState) speaks() bool { return a != nil && (a.found == yes || a.active) }

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
	case a.state == Unacknowledged && s.now-a.soundedAt >= after:
		s.emit(a, a.state, CauseSoundsAgain)
		a.soundedAt = s.now
	}
}

// Worse than acknowledged: a gas at half as much again, a bath three kelvin up.
const (
	worseRatio  = 1.5
	worseKelvin = 3
)

func (a *alarmState) worsened() bool {
	if a.found != yes || !a.trigger.HasSetpoint {
		return false
	}
	if a.trigger.Reason == sensors.ReasonOverRange {
		return a.ackValue > 0
	}
	if ppm, ok := a.trigger.Value.PPM(); ok {
		return float64(ppm) >= a.ackValue*worseRatio && a.ackValue > 0
	}
	if celsius, ok := a.trigger.Value.Celsius(); ok && a.trigger.Bath != "" {
		return float64(celsius) >= a.ackValue+worseKelvin && a.conditions[0].Kind != Below
	}
	return false
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
		}
		a.soundedAt = s.now
	}
	if to == Unacknowledged || to == Normal {
		a.ackBy, a.ackWhy = "", ""
	}
	a.state, a.changedAt = to, s.now
	s.emit(a, from, cause)
}

// emit tells of an alarm. Its sentence is filled in by finish, when it is known
// what else stands.
func (s *stepping) emit(a *alarmState, from State, cause Cause) {
	s.events = append(s.events, Event{
		At: s.now, Alarm: a.rule.Name, From: from, To: a.state, Cause: cause,
		Priority: a.rule.Priority, Class: a.rule.Class, Subject: a.rule.Subject,
		Trigger: a.trigger, FirstOut: a.firstOut,
	})
}

// finish says of each event what is to be said of it now.
func (s *stepping) finish() {
	away := s.e.keepsAway()
	for i := range s.events {
		event := &s.events[i]
		if a := s.e.alarm(event.Alarm); a != nil {
			event.Sentence = s.e.says(a, away).Sentence()
		}
	}
}

// command does what a person asks, or says why not.
func (s *stepping) command(c Command) error {
	if c.By == "" {
		return refuse(ErrNoName, "say who asks")
	}
	switch c.Kind {
	case PutAway:
		cool, why := s.e.allKnownCool(s.now)
		if !cool {
			return refuse(ErrNotNow, "the bench can be put away when every bath is below %s, and %s", HotAt, why)
		}
		if s.e.anyGas() {
			return refuse(ErrNotNow, "the bench can't be put away while a fume alarm stands")
		}
		s.e.inUse = false
		return nil
	case TakeIntoUse:
		s.e.inUse = true
		return nil
	}
	a := s.e.alarm(c.Alarm)
	if a == nil {
		return refuse(ErrNoSuchAlarm, "%q is none of this bench's alarms; 'alarm list' names them", c.Alarm)
	}
	if c.Kind == Acknowledge {
		return s.acknowledge(a, c)
	}
	return s.reset(a, c)
}

func (s *stepping) acknowledge(a *alarmState, c Command) error {
	if a.state.next(acknowledge, a.situation()) == a.state {
		return refuse(ErrNotNow, "%s is %s: there is nothing to acknowledge%s", a.rule.Name, a.state, byWhom(a))
	}
	a.ackValue, a.ackAt = a.trigger.Value.Number(), s.now
	for _, condition := range a.conditions {
		if condition.Kind == WasDark {
			s.e.darkUntold = false
		}
	}
	s.changeBy(a, acknowledge, CauseAcknowledged, c)
	return nil
}

func byWhom(a *alarmState) string {
	if a.ackBy == "" {
		return ""
	}
	return "; " + a.ackBy + " did"
}

func (s *stepping) reset(a *alarmState, c Command) error {
	if a.state.next(reset, a.situation()) == a.state {
		switch {
		case a.active:
			return refuse(ErrNotNow, "%s can't be reset while its condition stands; acknowledge silences it", a.rule.Name)
		case !a.rule.Latching:
			return refuse(ErrNotNow, "%s clears by itself and needs no reset", a.rule.Name)
		default:
			return refuse(ErrNotNow, "%s is %s: there is nothing to reset", a.rule.Name, a.state)
		}
	}
	s.changeBy(a, reset, CauseReset, c)
	return nil
}

// changeBy is change by a person: the event carries who and their word, and the
// alarm keeps them while they matter.
func (s *stepping) changeBy(a *alarmState, sig signal, cause Cause, c Command) {
	s.change(a, sig, cause)
	event := &s.events[len(s.events)-1]
	event.By, event.Why = c.By, c.Why
	if a.state == Acknowledged || a.state == LatchedAcknowledged {
		a.ackBy, a.ackWhy = c.By, c.Why
	}
}
