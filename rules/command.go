package rules

// command does what a person asks, or says why not.
func (s *stepping) command(c Command) error {
	if c.By == "" {
		return refuse(ErrNoName, "say who asks")
	}
	switch c.Kind {
	case PutAway:
		return s.putAway(c)
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

// putAway puts a cold bench away. Where no probe tells of a bath any more, it
// takes the word of whoever asks, so that a probe that died hot does not keep a
// bench hot for ever.
func (s *stepping) putAway(c Command) error {
	if s.e.anyGas() {
		return refuse(ErrNotNow, "the bench can't be put away while a fume alarm stands")
	}
	if err := s.e.mayBePutAway(c.Why); err != nil {
		return err
	}
	for _, b := range s.e.baths {
		b.takeForCool()
	}
	s.e.inUse = false
	return nil
}

func (s *stepping) acknowledge(a *alarmState, c Command) error {
	if a.state.next(acknowledge, a.situation()) == a.state {
		return refuse(ErrNotNow, "%s is %s: there is nothing to acknowledge%s", a.rule.Name, a.state, byWhom(a))
	}
	a.ackAt = s.now
	for _, condition := range a.conditions {
		condition.acknowledged(s.e)
	}
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
