package main

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"google.golang.org/grpc"

	"simmerline/hub"
	"simmerline/hub/grpcapi"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/rules"
	"simmerline/sensors"
)

// AlarmListCommand is `alarm list`.
type AlarmListCommand struct {
	All  bool `help:"List the alarms in the normal state too: all that this bench has."`
	JSON bool `name:"json" help:"Print one JSON object."`
	hubFlag
}

// Help is what --help says beyond the flags.
func (*AlarmListCommand) Help() string {
	return `The one that speaks first comes first. States are those of ANSI/ISA-18.2 and IEC 62682.

With --json, "value" and "setpoint" are numbers in the unit that "unit" names (°C, ppm or kPa), times are
RFC 3339 in UTC by the hub's wall clock, and what is not known is left out.`
}

// Run lists the alarms.
func (x *AlarmListCommand) Run(c console) error {
	var list alarmList
	err := call(x.Hub, callWithin, func(ctx context.Context, connection *grpc.ClientConn) error {
		var err error
		list, err = fetchAlarms(ctx, connection, x.All)
		return err
	})
	if err != nil {
		return err
	}
	if x.JSON {
		return printJSON(c, list.json())
	}
	return say(c, list.text())
}

// alarmList is the alarms of a hub at one moment.
type alarmList struct {
	hub    *hub.Snapshot
	alarms []rules.AlarmView // those that speak first come first
}

// fetchAlarms takes the state that a hub gives to whoever begins to watch, so
// that the alarms and what is said above them are of one moment. The alarms in
// the normal state are no part of that; the hub is asked for them apart.
func fetchAlarms(ctx context.Context, connection *grpc.ClientConn, all bool) (alarmList, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	stream, err := simmerlinepb.NewWatchServiceClient(connection).Watch(ctx, &simmerlinepb.WatchRequest{})
	if err != nil {
		return alarmList{}, err
	}
	var mirror grpcapi.Mirror
	for mirror.Snapshot() == nil {
		message, err := stream.Recv()
		if err != nil {
			return alarmList{}, err
		}
		mirror.Take(message)
	}
	list := alarmList{hub: mirror.Snapshot()}
	list.alarms = list.hub.View.Alarms
	slices.SortStableFunc(list.alarms, func(a, b rules.AlarmView) int { return speaksBefore(a, b) })
	if !all {
		return list, nil
	}
	answer, err := simmerlinepb.NewAlarmServiceClient(connection).ListAlarms(ctx, &simmerlinepb.ListAlarmsRequest{IncludeNormal: true})
	if err != nil {
		return alarmList{}, err
	}
	for _, wire := range answer.GetAlarms() {
		known := slices.ContainsFunc(list.alarms, func(a rules.AlarmView) bool { return a.Name == wire.GetName() })
		if !known {
			list.alarms = append(list.alarms, grpcapi.AlarmFromWire(wire))
		}
	}
	return list, nil
}

// speaksBefore orders alarms: those that stand first, as the hub's advice does.
func speaksBefore(a, b rules.AlarmView) int {
	stands := a.State.Stands()
	switch {
	case stands != b.State.Stands() && stands, stands == b.State.Stands() && a.Before(b):
		return -1
	case stands != b.State.Stands(), b.Before(a):
		return 1
	}
	return 0
}

// wall is what the hub's wall clock showed at an offset of its run.
func (l alarmList) wall(offset time.Duration) time.Time {
	return l.hub.Wall.Add(offset - l.hub.At)
}

// text is the list for people.
func (l alarmList) text() string {
	units := unitsOf(l.hub.Fahrenheit)
	advice := l.hub.View.Advice
	var out strings.Builder
	fmt.Fprintf(&out, "%s at %s: %s\n", l.hub.Bench, clockTime(l.hub.Wall), advice.Headline)
	if advice.Alarm != "" {
		fmt.Fprintln(&out, sentence(advice.Saying, units))
	}
	if len(l.hub.Protection.Missing) > 0 {
		fmt.Fprintf(&out, "Not watched over as the bench file asks: %s.\n", strings.Join(l.hub.Protection.Missing, "; "))
	}
	rows := table{{"ALARM", "PRIORITY", "SINCE", "STATE"}}
	unacknowledged, latched := false, false
	for _, a := range l.alarms {
		since := ""
		if a.State != rules.Normal {
			since = clockTime(l.wall(a.RaisedAt))
			if !a.State.Stands() {
				since = clockTime(l.wall(a.ChangedAt))
			}
		}
		rows = append(rows, []string{a.Name, a.Priority.String(), since, stateWords(a)})
		unacknowledged = unacknowledged || wantsAcknowledge(a.State)
		latched = latched || a.State == rules.LatchedAcknowledged
	}
	if len(l.alarms) > 0 {
		out.WriteString("\n" + rows.text())
	}
	if unacknowledged {
		out.WriteString("\nTo acknowledge, which stops the sound: simmerline alarm ack ALARM --by WHO\n")
	}
	if latched {
		out.WriteString("\nTo reset what is latched, once the matter is seen to: simmerline alarm reset ALARM --by WHO\n")
	}
	return out.String()
}

func wantsAcknowledge(s rules.State) bool {
	return s == rules.Unacknowledged || s == rules.RTNUnacknowledged || s == rules.LatchedUnacknowledged
}

// alarmListJSON is the output of `alarm list --json`.
type alarmListJSON struct {
	Bench    string      `json:"bench"`
	At       string      `json:"at"`
	Headline string      `json:"headline"` // NO ALARM, LOOK, HOT or LEAVE
	Sentence string      `json:"sentence"` // what is so and what to do, in °C
	KeepAway bool        `json:"keep_away"`
	Missing  []string    `json:"not_watched_over"`
	Alarms   []alarmJSON `json:"alarms"`
}

// alarmJSON is one alarm of it.
type alarmJSON struct {
	Name            string   `json:"name"`
	State           string   `json:"state"`
	Active          bool     `json:"active"` // its condition, with its delays, is true
	Priority        string   `json:"priority"`
	Class           string   `json:"class"`
	Latching        bool     `json:"latching"`
	Sentence        string   `json:"sentence"`
	Channel         string   `json:"channel,omitempty"` // the one that governed
	Value           *float64 `json:"value,omitempty"`
	Setpoint        *float64 `json:"setpoint,omitempty"`
	Unit            string   `json:"unit,omitempty"` // of both: °C, ppm or kPa
	RaisedAt        string   `json:"raised_at,omitempty"`
	ChangedAt       string   `json:"changed_at,omitempty"`
	AcknowledgedBy  string   `json:"acknowledged_by,omitempty"`
	AcknowledgedWhy string   `json:"acknowledged_why,omitempty"`
}

func (l alarmList) json() alarmListJSON {
	list := alarmListJSON{
		Bench: l.hub.Bench, At: stamp(l.hub.Wall), Headline: l.hub.View.Advice.Headline.String(),
		Sentence: l.hub.View.Advice.Sentence, KeepAway: l.hub.View.Advice.KeepAway,
		Missing: append([]string{}, l.hub.Protection.Missing...), Alarms: []alarmJSON{},
	}
	for _, a := range l.alarms {
		row := alarmJSON{
			Name: a.Name, State: a.State.String(), Active: a.Active, Priority: a.Priority.String(), Class: a.Class.String(),
			Latching: a.Latching, Sentence: a.Saying.Sentence(), Channel: a.Trigger.Channel,
			AcknowledgedBy: a.By, AcknowledgedWhy: a.Why,
		}
		if v := a.Trigger.Value; v.Known() && v.Quantity() != sensors.Contact {
			number := v.Number()
			row.Value, row.Unit = &number, v.Quantity().Unit()
			if a.Trigger.HasSetpoint {
				row.Setpoint = &a.Trigger.Setpoint
			}
		}
		if a.State != rules.Normal {
			row.RaisedAt, row.ChangedAt = stamp(l.wall(a.RaisedAt)), stamp(l.wall(a.ChangedAt))
		}
		list.Alarms = append(list.Alarms, row)
	}
	return list
}
