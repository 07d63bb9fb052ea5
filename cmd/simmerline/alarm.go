package main

import (
	"context"
	"fmt"

	"google.golang.org/grpc"

	"simmerline/hub"
	"simmerline/hub/grpcapi"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/rules"
)

// AlarmCommand groups what can be done about alarms.
type AlarmCommand struct {
	List  AlarmListCommand  `cmd:"" help:"List the alarms that stand, and how each stands."`
	Ack   AlarmAckCommand   `cmd:"" help:"Acknowledge an alarm: its sound stops, its state stays."`
	Reset AlarmResetCommand `cmd:"" help:"Reset a latched alarm whose condition has cleared."`
}

// AlarmAckCommand is `alarm ack`.
type AlarmAckCommand struct {
	Name string `arg:"" help:"The alarm's name, as 'alarm list' prints it."`
	whoFlags
	hubFlag
}

// Help is what --help says beyond the flags.
func (*AlarmAckCommand) Help() string {
	return `The sound stops at once, everywhere. The alarm itself stays until its condition has cleared, and a danger
that goes on for five minutes sounds again.

  simmerline alarm ack hot-sulfide-danger --by Maren --why "plate is off"`
}

// Run acknowledges and says what is now so.
func (x *AlarmAckCommand) Run(c console) error {
	return call(x.Hub, callWithin, func(ctx context.Context, connection *grpc.ClientConn) error {
		answer, err := simmerlinepb.NewAlarmServiceClient(connection).AcknowledgeAlarm(ctx,
			&simmerlinepb.AcknowledgeAlarmRequest{Name: x.Name, By: x.By, Why: x.Why})
		if err != nil {
			return err
		}
		return sayAlarm(c, answer.GetAlarm(), answer.GetRecorded())
	})
}

// AlarmResetCommand is `alarm reset`.
type AlarmResetCommand struct {
	Name string `arg:"" help:"The alarm's name, as 'alarm list' prints it."`
	whoFlags
	hubFlag
}

// Help is what --help says beyond the flags.
func (*AlarmResetCommand) Help() string {
	return `Fume dangers and a bath that boiled dry latch: they stand until somebody has seen to the matter and resets
them. That is refused while the condition is still true.

  simmerline alarm reset fume-h2s-danger --by Maren --why "room aired"`
}

// Run resets and says what is now so.
func (x *AlarmResetCommand) Run(c console) error {
	return call(x.Hub, callWithin, func(ctx context.Context, connection *grpc.ClientConn) error {
		answer, err := simmerlinepb.NewAlarmServiceClient(connection).ResetAlarm(ctx,
			&simmerlinepb.ResetAlarmRequest{Name: x.Name, By: x.By, Why: x.Why})
		if err != nil {
			return err
		}
		return sayAlarm(c, answer.GetAlarm(), answer.GetRecorded())
	})
}

// sayAlarm says how an alarm stands after a command, and how surely the record
// has the command.
func sayAlarm(c console, wire *simmerlinepb.Alarm, recorded simmerlinepb.Recorded) error {
	alarm := grpcapi.AlarmFromWire(wire)
	text := fmt.Sprintf("%s is now %s: %s.\n", alarm.Name, stateWords(alarm), stateMeans(alarm))
	if alarm.State != rules.Normal {
		text += wire.GetSaying().GetSentence() + "\n"
	}
	return say(c, text+recordedLine(grpcapi.RecordedFromWire(recorded)))
}

// recordedLine says how surely something is in the record. Its first two words
// are fixed, for scripts.
func recordedLine(recorded hub.Recorded) string {
	means := map[hub.Recorded]string{
		hub.RecordedSynced:  "it outlives a power cut",
		hub.RecordedWritten: "not yet sure to outlive a power cut",
		hub.RecordedNo:      "it has taken effect, but the record does not have it",
	}[recorded]
	return fmt.Sprintf("recorded: %s (%s)\n", recorded, means)
}

// say prints the answer of a command.
func say(c console, text string) error {
	if _, err := fmt.Fprint(c.Out, text); err != nil {
		return fmt.Errorf("can't print the answer: %w", err)
	}
	return nil
}
