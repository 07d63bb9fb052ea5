package main

import (
	"context"
	"fmt"

	"google.golang.org/grpc"

	"simmerline/hub"
	"simmerline/hub/grpcapi"
	"simmerline/hub/record"
	simmerlinepb "simmerline/proto/simmerline/v1"
)

// SessionListCommand is `session list`.
type SessionListCommand struct {
	JSON bool `name:"json" help:"Print an array of sessions, one object each."`
	sourceFlags
}

// Help is what --help says beyond the flags.
func (*SessionListCommand) Help() string {
	return `With --json, times are RFC 3339 in UTC by the hub's wall clock; an open session has no "ended_at".`
}

// Run lists the sessions.
func (x *SessionListCommand) Run(c console) error {
	var sessions []hub.Session
	err := x.ask(c, callWithin,
		func(ctx context.Context, connection *grpc.ClientConn) (err error) {
			sessions, err = fetchSessions(ctx, connection)
			return err
		},
		func(ctx context.Context, r *record.Reader) (err error) {
			sessions, err = hub.Sessions(ctx, r)
			return err
		})
	if err != nil {
		return err
	}
	if x.JSON {
		return printJSON(c, sessionsJSON(sessions))
	}
	return say(c, sessionsText(sessions))
}

// fetchSessions asks a hub for every page of its sessions.
func fetchSessions(ctx context.Context, connection *grpc.ClientConn) ([]hub.Session, error) {
	var sessions []hub.Session
	client := simmerlinepb.NewSessionServiceClient(connection)
	request := &simmerlinepb.ListSessionsRequest{PageSize: 500}
	for {
		page, err := client.ListSessions(ctx, request)
		if err != nil {
			return nil, err
		}
		for _, s := range page.GetSessions() {
			sessions = append(sessions, grpcapi.SessionFromWire(s))
		}
		if request.PageToken = page.GetNextPageToken(); request.PageToken == "" {
			return sessions, nil
		}
	}
}

func sessionsText(sessions []hub.Session) string {
	if len(sessions) == 0 {
		return "No session yet. One begins by itself when a bath warms, or with: simmerline session start --by WHO\n"
	}
	rows := table{{"ID", "FROM", "UNTIL", "STARTED", "ENDED", "NAME"}}
	for _, s := range sessions {
		until := ""
		if !s.Open() {
			until = timeAfter(s.StartWall, s.EndWall)
		}
		began, ended := howWords(s)
		rows = append(rows, []string{fmt.Sprint(s.ID), dayTime(s.StartWall), until, began, ended, s.Name})
	}
	return rows.text() + fmt.Sprintf("\nTo look back on one: simmerline review %d\n", sessions[0].ID)
}

// sessionJSON is one session in the output of `session list --json`.
type sessionJSON struct {
	ID         int64  `json:"id"`
	Name       string `json:"name"`
	StartedAt  string `json:"started_at"`
	StartedHow string `json:"started_how"` // by command, or by itself
	StartedBy  string `json:"started_by,omitempty"`
	EndedAt    string `json:"ended_at,omitempty"`
	EndedHow   string `json:"ended_how,omitempty"` // by command, by itself, or by power loss
	EndedBy    string `json:"ended_by,omitempty"`
	Kept       bool   `json:"kept"` // never deleted to make room
}

func sessionsJSON(sessions []hub.Session) []sessionJSON {
	rows := []sessionJSON{} // so that none is [], not null
	for _, s := range sessions {
		rows = append(rows, sessionJSON{
			ID: s.ID, Name: s.Name, StartedAt: stamp(s.StartWall), StartedHow: string(s.StartedHow), StartedBy: s.StartedBy,
			EndedAt: stamp(s.EndWall), EndedHow: string(s.EndedHow), EndedBy: s.EndedBy, Kept: s.Kept,
		})
	}
	return rows
}
