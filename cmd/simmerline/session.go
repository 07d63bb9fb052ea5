package main

import (
	"context"
	"fmt"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/durationpb"

	"simmerline/hub"
	"simmerline/hub/grpcapi"
	simmerlinepb "simmerline/proto/simmerline/v1"
)

// SessionCommand groups what can be done with sessions: named intervals of the
// record, which is kept all the time.
type SessionCommand struct {
	Start SessionStartCommand `cmd:"" help:"Start a session, also one that began some time ago."`
	End   SessionEndCommand   `cmd:"" help:"End the open session."`
	List  SessionListCommand  `cmd:"" help:"List the sessions, the newest first."`
	Mark  SessionMarkCommand  `cmd:"" help:"Mark this moment with a word."`
}

// SessionStartCommand is `session start`.
type SessionStartCommand struct {
	Name  string        `arg:"" optional:"" help:"What to call it; by default the date and time it began."`
	Since time.Duration `placeholder:"TIME" help:"How long ago it began, up to 24h, as 20m."`
	By    string        `required:"" placeholder:"WHO" help:"Who starts it: it is kept with it."`
	hubFlag
}

// Help is what --help says beyond the flags.
func (*SessionStartCommand) Help() string {
	return `Everything is recorded all the time, so a session may be started late. One also begins by itself when a bath
warms; it then need not be started.

  simmerline session start "blue ring" --since 20m --by Maren`
}

// Run starts a session.
func (x *SessionStartCommand) Run(c console) error {
	return call(x.Hub, callWithin, func(ctx context.Context, connection *grpc.ClientConn) error {
		answer, err := simmerlinepb.NewSessionServiceClient(connection).StartSession(ctx,
			&simmerlinepb.StartSessionRequest{Name: x.Name, By: x.By, Since: durationpb.New(x.Since)})
		if err != nil {
			return err
		}
		s := grpcapi.SessionFromWire(answer.GetSession())
		return say(c, fmt.Sprintf("Session %d, %q, is open: from %s on, started by %s.\n%s",
			s.ID, s.Name, dayTime(s.StartWall), s.StartedBy, recordedLine(grpcapi.RecordedFromWire(answer.GetRecorded()))))
	})
}

// SessionEndCommand is `session end`.
type SessionEndCommand struct {
	By string `required:"" placeholder:"WHO" help:"Who ends it: it is kept with it."`
	hubFlag
}

// Run ends the open session.
func (x *SessionEndCommand) Run(c console) error {
	return call(x.Hub, callWithin, func(ctx context.Context, connection *grpc.ClientConn) error {
		answer, err := simmerlinepb.NewSessionServiceClient(connection).EndSession(ctx, &simmerlinepb.EndSessionRequest{By: x.By})
		if err != nil {
			return err
		}
		s := grpcapi.SessionFromWire(answer.GetSession())
		return say(c, fmt.Sprintf("Session %d, %q, has ended: %s to %s, ended by %s. The bench goes on being watched and recorded.\nTo look back: simmerline review %d\n%s",
			s.ID, s.Name, dayTime(s.StartWall), timeAfter(s.StartWall, s.EndWall), s.EndedBy, s.ID,
			recordedLine(grpcapi.RecordedFromWire(answer.GetRecorded()))))
	})
}

// SessionMarkCommand is `session mark`.
type SessionMarkCommand struct {
	Text string `arg:"" help:"What happened, as \"added ammonia\"."`
	By   string `required:"" placeholder:"WHO" help:"Who marks it: it is kept with it."`
	hubFlag
}

// Run marks this moment.
func (x *SessionMarkCommand) Run(c console) error {
	return call(x.Hub, callWithin, func(ctx context.Context, connection *grpc.ClientConn) error {
		answer, err := simmerlinepb.NewSessionServiceClient(connection).AddMark(ctx, &simmerlinepb.AddMarkRequest{Text: x.Text, By: x.By})
		if err != nil {
			return err
		}
		return say(c, fmt.Sprintf("Marked: %s\n%s", x.Text, recordedLine(grpcapi.RecordedFromWire(answer.GetRecorded()))))
	})
}

// howWords says how a session began or ended.
func howWords(s hub.Session) (began, ended string) {
	began = "by itself, as a bath warmed"
	if s.StartedBy != "" {
		began = "by " + s.StartedBy
	}
	switch {
	case s.Open():
		ended = "still open"
	case s.EndedBy != "":
		ended = "by " + s.EndedBy
	default:
		ended = string(s.EndedHow)
	}
	return began, ended
}
