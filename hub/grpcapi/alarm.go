package grpcapi

import (
	"context"

	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/rules"
)

// alarmService lists alarms, acknowledges and resets them.
type alarmService struct {
	simmerlinepb.UnimplementedAlarmServiceServer
	*served
}

func (s alarmService) ListAlarms(_ context.Context, r *simmerlinepb.ListAlarmsRequest) (*simmerlinepb.ListAlarmsResponse, error) {
	snapshot, err := s.snapshot()
	if err != nil {
		return nil, err
	}
	answer := &simmerlinepb.ListAlarmsResponse{}
	for _, a := range snapshot.View.Alarms {
		if r.GetIncludeNormal() || a.State != rules.Normal {
			answer.Alarms = append(answer.Alarms, alarmToWire(snapshot.View, a))
		}
	}
	return answer, nil
}

func (s alarmService) AcknowledgeAlarm(ctx context.Context, r *simmerlinepb.AcknowledgeAlarmRequest) (*simmerlinepb.AcknowledgeAlarmResponse, error) {
	if err := checkAction(r.GetName(), r.GetBy(), r.GetWhy()); err != nil {
		return nil, err
	}
	alarm, recorded, err := s.hub.Acknowledge(ctx, r.GetName(), r.GetBy(), r.GetWhy())
	if err != nil {
		return nil, statusOf(err)
	}
	return &simmerlinepb.AcknowledgeAlarmResponse{Alarm: s.alarm(alarm), Recorded: recordedGrades.wire(recorded)}, nil
}

func (s alarmService) ResetAlarm(ctx context.Context, r *simmerlinepb.ResetAlarmRequest) (*simmerlinepb.ResetAlarmResponse, error) {
	if err := checkAction(r.GetName(), r.GetBy(), r.GetWhy()); err != nil {
		return nil, err
	}
	alarm, recorded, err := s.hub.Reset(ctx, r.GetName(), r.GetBy(), r.GetWhy())
	if err != nil {
		return nil, statusOf(err)
	}
	return &simmerlinepb.ResetAlarmResponse{Alarm: s.alarm(alarm), Recorded: recordedGrades.wire(recorded)}, nil
}

// alarm gives an alarm as an answer holds it. It is no longer on its way to
// clearing from any particular moment, so that is left out.
func (s alarmService) alarm(a rules.AlarmView) *simmerlinepb.Alarm {
	a.ClearsIn = 0
	return alarmToWire(rules.View{}, a)
}

// checkAction checks what somebody asks of an alarm.
func checkAction(name, by, why string) error {
	var f fields
	f.needed("name", name, "give the alarm's name, as ListAlarms has it")
	f.who(by)
	f.text("why", why)
	return f.err()
}
