package grpcapi

import (
	"slices"

	"google.golang.org/protobuf/proto"

	simmerlinepb "simmerline/proto/simmerline/v1"
)

// What the members of a state's lists are known by.
var (
	bathName    = (*simmerlinepb.BathState).GetBath
	readingName = (*simmerlinepb.Reading).GetChannel
	alarmName   = (*simmerlinepb.Alarm).GetName
	portName    = (*simmerlinepb.PortStatus).GetPort
)

func indexOf[M any](list []M, name func(M) string, wanted string) int {
	return slices.IndexFunc(list, func(m M) bool { return name(m) == wanted })
}

// diff gives what of next is different from prev, for merge to put in; nil when
// nothing is. Neither state is changed.
func diff(prev, next *simmerlinepb.BenchState) *simmerlinepb.BenchState {
	d := &simmerlinepb.BenchState{
		Advice:     changed(prev.GetAdvice(), next.GetAdvice()),
		Protection: changed(prev.GetProtection(), next.GetProtection()),
		Baths:      changedMembers(prev.GetBaths(), next.GetBaths(), bathName),
		Readings:   changedMembers(prev.GetReadings(), next.GetReadings(), readingName),
		Alarms:     changedMembers(prev.GetAlarms(), next.GetAlarms(), alarmName),
		Ports:      changedMembers(prev.GetPorts(), next.GetPorts(), portName),
		Session:    changed(prev.GetSession(), next.GetSession()),
		Sound:      changed(prev.GetSound(), next.GetSound()),
		Record:     changed(prev.GetRecord(), next.GetRecord()),
		Restart:    changed(prev.GetRestart(), next.GetRestart()),
	}
	if prev.GetInUse() != next.GetInUse() || (prev.InUse == nil && next.InUse != nil) {
		d.InUse = proto.Bool(next.GetInUse())
	}
	if prev.GetStations() != next.GetStations() || (prev.Stations == nil && next.Stations != nil) {
		d.Stations = proto.Uint32(next.GetStations())
	}
	for _, a := range prev.GetAlarms() {
		if indexOf(next.GetAlarms(), alarmName, a.GetName()) < 0 {
			d.Alarms = append(d.Alarms, becomeNormal(a))
		}
	}
	if prev.GetSession() != nil && next.GetSession() == nil {
		d.Session = &simmerlinepb.Session{} // none is open any more
	}
	if proto.Size(d) == 0 {
		return nil
	}
	return d
}

// changed gives next when it is different, and nil when it is not.
func changed[M proto.Message](prev, next M) M {
	if proto.Equal(prev, next) {
		var none M
		return none
	}
	return next
}

func changedMembers[M proto.Message](prev, next []M, name func(M) string) []M {
	var members []M
	for _, m := range next {
		if i := indexOf(prev, name, name(m)); i < 0 || !proto.Equal(prev[i], m) {
			members = append(members, m)
		}
	}
	return members
}

// becomeNormal is what tells a client that an alarm no longer stands.
func becomeNormal(a *simmerlinepb.Alarm) *simmerlinepb.Alarm {
	return &simmerlinepb.Alarm{
		Name: a.GetName(), State: simmerlinepb.AlarmState_ALARM_STATE_NORMAL, Priority: a.GetPriority(), Class: a.GetClass(),
		Latching: a.GetLatching(), SetpointFrom: a.GetSetpointFrom(),
	}
}

// merge puts a change into a state that a client holds.
func merge(state, change *simmerlinepb.BenchState) {
	set(&state.Advice, change.GetAdvice())
	set(&state.Protection, change.GetProtection())
	set(&state.Session, change.GetSession())
	set(&state.Sound, change.GetSound())
	set(&state.Record, change.GetRecord())
	set(&state.Restart, change.GetRestart())
	set(&state.InUse, change.InUse)
	set(&state.Stations, change.Stations)
	state.Baths = mergeMembers(state.GetBaths(), change.GetBaths(), bathName)
	state.Readings = mergeMembers(state.GetReadings(), change.GetReadings(), readingName)
	state.Ports = mergeMembers(state.GetPorts(), change.GetPorts(), portName)
	state.Alarms = mergeMembers(state.GetAlarms(), change.GetAlarms(), alarmName)
	state.Alarms = slices.DeleteFunc(state.GetAlarms(), func(a *simmerlinepb.Alarm) bool {
		return a.GetState() == simmerlinepb.AlarmState_ALARM_STATE_NORMAL
	})
	if state.GetSession().GetId() == 0 {
		state.Session = nil
	}
}

func set[T any](field **T, value *T) {
	if value != nil {
		*field = value
	}
}

func mergeMembers[M any](members, changes []M, name func(M) string) []M {
	for _, m := range changes {
		if i := indexOf(members, name, name(m)); i >= 0 {
			members[i] = m
		} else {
			members = append(members, m)
		}
	}
	return members
}
