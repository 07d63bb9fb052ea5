package grpcapi

import (
	"google.golang.org/protobuf/types/known/durationpb"

	"simmerline/hub"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/rules"
	"simmerline/sensors"
)

func triggerToWire(t rules.Trigger) *simmerlinepb.AlarmTrigger {
	wire := &simmerlinepb.AlarmTrigger{
		Channel: t.Channel, Bath: t.Bath, Port: t.Port, Value: valueToWire(t.Value),
		Reason: reasons.wire(t.Reason), HeardOffset: durationpb.New(t.At),
	}
	if t.HasSetpoint {
		// The setpoint is in the unit of the value. Where there is no value it has
		// no unit either, and nothing can be said of it.
		if setpoint, err := sensors.NewValue(t.Value.Quantity(), t.Setpoint); err == nil {
			wire.Setpoint = valueToWire(setpoint)
		}
	}
	return wire
}

func triggerFromWire(wire *simmerlinepb.AlarmTrigger) rules.Trigger {
	setpoint := valueFromWire(wire.GetSetpoint())
	return rules.Trigger{
		Channel: wire.GetChannel(), Bath: wire.GetBath(), Port: wire.GetPort(), Value: valueFromWire(wire.GetValue()),
		Reason: reasons.native(wire.GetReason()), Setpoint: setpoint.Number(), HasSetpoint: setpoint.Known(),
		At: wire.GetHeardOffset().AsDuration(),
	}
}

func sayingToWire(s rules.Saying, sentence string) *simmerlinepb.Saying {
	return &simmerlinepb.Saying{
		Subject: s.Subject, Figure: valueToWire(s.Figure), Means: s.Means, Instruction: s.Do, Sentence: sentence,
	}
}

func sayingFromWire(wire *simmerlinepb.Saying) rules.Saying {
	return rules.Saying{
		Subject: wire.GetSubject(), Figure: valueFromWire(wire.GetFigure()), Means: wire.GetMeans(), Do: wire.GetInstruction(),
	}
}

// alarmToWire needs the offset at which the view was made, as a view counts
// down and the wire does not.
func alarmToWire(v rules.View, a rules.AlarmView) *simmerlinepb.Alarm {
	return &simmerlinepb.Alarm{
		Name: a.Name, State: alarmStates.wire(a.State), Active: a.Active,
		Priority: priorities.wire(a.Priority), Class: classes.wire(a.Class), Latching: a.Latching,
		Saying: sayingToWire(a.Saying, a.Saying.Sentence()), SetpointFrom: a.Whose, Trigger: triggerToWire(a.Trigger),
		FirstOutRank: uint32(max(a.FirstOut, 0)), RaisedOffset: durationpb.New(a.RaisedAt),
		ChangedOffset: durationpb.New(a.ChangedAt), ClearsOffset: offsetToWire(v.At+a.ClearsIn, a.ClearsIn > 0),
		AcknowledgedBy: a.By, AcknowledgedWhy: a.Why,
	}
}

// alarmFromWire is the twin of alarmToWire for the offset of v.
func alarmFromWire(v rules.View, wire *simmerlinepb.Alarm) rules.AlarmView {
	a := rules.AlarmView{
		Name: wire.GetName(), State: alarmStates.native(wire.GetState()), Active: wire.GetActive(),
		Priority: priorities.native(wire.GetPriority()), Class: classes.native(wire.GetClass()), Latching: wire.GetLatching(),
		Saying: sayingFromWire(wire.GetSaying()), Whose: wire.GetSetpointFrom(), Trigger: triggerFromWire(wire.GetTrigger()),
		FirstOut: int(wire.GetFirstOutRank()), RaisedAt: wire.GetRaisedOffset().AsDuration(),
		ChangedAt: wire.GetChangedOffset().AsDuration(), By: wire.GetAcknowledgedBy(), Why: wire.GetAcknowledgedWhy(),
	}
	if wire.GetClearsOffset() != nil {
		a.ClearsIn = max(wire.GetClearsOffset().AsDuration()-v.At, 0)
	}
	return a
}

// AlarmFromWire gives an alarm outside a state, as an answer has it: without
// how long it is until it clears.
func AlarmFromWire(wire *simmerlinepb.Alarm) rules.AlarmView {
	a := alarmFromWire(rules.View{}, wire)
	a.ClearsIn = 0
	return a
}

func eventToWire(a hub.Announcement) *simmerlinepb.AlarmEvent {
	e := a.Alarm
	return &simmerlinepb.AlarmEvent{
		Name: e.Alarm, Subject: e.Subject, State: alarmStates.wire(e.To), PreviousState: alarmStates.wire(e.From),
		Cause: causes.wire(e.Cause), Priority: priorities.wire(e.Priority), Class: classes.wire(e.Class),
		Trigger: triggerToWire(e.Trigger), FirstOutRank: uint32(max(e.FirstOut, 0)), Sentence: e.Sentence,
		By: e.By, Why: e.Why, At: instant{a.Run, a.At, a.Wall}.wire(),
		Recorded: recordedGrades.wire(a.Recorded),
	}
}

func noticeToWire(a hub.Announcement) *simmerlinepb.Notice {
	n := a.Notice
	return &simmerlinepb.Notice{
		Kind: noticeKinds.wire(n.Kind), Sentence: n.Text, By: n.By, Bath: n.Bath, SessionId: n.Session,
		At: instant{a.Run, a.At, a.Wall}.wire(), Recorded: recordedGrades.wire(a.Recorded),
	}
}

// AnnouncementFromWire gives the alarm event or notice of a message; ok is
// false when the message holds neither.
func AnnouncementFromWire(m *simmerlinepb.WatchResponse) (a hub.Announcement, ok bool) {
	var at instant
	switch {
	case m.GetAlarmEvent() != nil:
		e := m.GetAlarmEvent()
		at = instantFromWire(e.GetAt())
		a.Recorded = recordedGrades.native(e.GetRecorded())
		a.Alarm = &rules.Event{
			At: at.offset, Alarm: e.GetName(), From: alarmStates.native(e.GetPreviousState()), To: alarmStates.native(e.GetState()),
			Cause: causes.native(e.GetCause()), Priority: priorities.native(e.GetPriority()), Class: classes.native(e.GetClass()),
			Subject: e.GetSubject(), Trigger: triggerFromWire(e.GetTrigger()), FirstOut: int(e.GetFirstOutRank()),
			Sentence: e.GetSentence(), By: e.GetBy(), Why: e.GetWhy(),
		}
	case m.GetNotice() != nil:
		n := m.GetNotice()
		at = instantFromWire(n.GetAt())
		a.Recorded = recordedGrades.native(n.GetRecorded())
		a.Notice = &hub.Notice{
			Kind: noticeKinds.native(n.GetKind()), Text: n.GetSentence(), By: n.GetBy(), Bath: n.GetBath(), Session: n.GetSessionId(),
		}
	default:
		return hub.Announcement{}, false
	}
	a.Sequence, a.Run, a.At, a.Wall = m.GetSequence(), at.run, at.offset, at.wall
	return a, true
}
