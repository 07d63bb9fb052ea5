package grpcapi

import (
	"context"
	"strconv"
	"time"

	simmerlinepb "simmerline/proto/simmerline/v1"
)

// Bounds on what is asked of sessions.
const (
	sessionsPage     = 50
	sessionsPageMost = 500
	furthestBack     = 24 * time.Hour
)

// sessionService starts, ends and lists sessions, and looks back.
type sessionService struct {
	simmerlinepb.UnimplementedSessionServiceServer
	*served
}

func (s sessionService) StartSession(ctx context.Context, r *simmerlinepb.StartSessionRequest) (*simmerlinepb.StartSessionResponse, error) {
	var f fields
	f.text("name", r.GetName())
	f.who(r.GetBy())
	since := f.ago("since", r.GetSince(), furthestBack)
	if err := f.err(); err != nil {
		return nil, err
	}
	session, recorded, err := s.hub.StartSession(ctx, r.GetName(), since, r.GetBy())
	if err != nil {
		return nil, statusOf(err)
	}
	return &simmerlinepb.StartSessionResponse{Session: sessionToWire(session), Recorded: recordedGrades.wire(recorded)}, nil
}

func (s sessionService) EndSession(ctx context.Context, r *simmerlinepb.EndSessionRequest) (*simmerlinepb.EndSessionResponse, error) {
	if err := needWho(r.GetBy()); err != nil {
		return nil, err
	}
	session, recorded, err := s.hub.EndSession(ctx, r.GetBy())
	if err != nil {
		return nil, statusOf(err)
	}
	return &simmerlinepb.EndSessionResponse{Session: sessionToWire(session), Recorded: recordedGrades.wire(recorded)}, nil
}

func (s sessionService) AddMark(ctx context.Context, r *simmerlinepb.AddMarkRequest) (*simmerlinepb.AddMarkResponse, error) {
	var f fields
	f.needed("text", r.GetText(), "say what happened")
	f.text("by", r.GetBy())
	if err := f.err(); err != nil {
		return nil, err
	}
	recorded, err := s.hub.Mark(ctx, r.GetText(), r.GetBy())
	if err != nil {
		return nil, statusOf(err)
	}
	return &simmerlinepb.AddMarkResponse{Recorded: recordedGrades.wire(recorded)}, nil
}

func (s sessionService) ListSessions(ctx context.Context, r *simmerlinepb.ListSessionsRequest) (*simmerlinepb.ListSessionsResponse, error) {
	var f fields
	size := int(r.GetPageSize())
	switch {
	case size == 0:
		size = sessionsPage
	case size < 0 || size > sessionsPageMost:
		f.wrong("page_size", "is %d: give 1 to %d, or 0 for %d", size, sessionsPageMost, sessionsPage)
	}
	before := f.pageToken("page_token", r.GetPageToken())
	if err := f.err(); err != nil {
		return nil, err
	}
	sessions, err := s.hub.Sessions(ctx)
	if err != nil {
		return nil, statusOf(err)
	}
	answer := &simmerlinepb.ListSessionsResponse{}
	for _, session := range sessions {
		if before > 0 && uint64(session.ID) >= before {
			continue
		}
		if len(answer.Sessions) == size {
			answer.NextPageToken = strconv.FormatUint(answer.Sessions[size-1].GetId(), 10)
			break
		}
		answer.Sessions = append(answer.Sessions, sessionToWire(session))
	}
	return answer, nil
}

// pageToken reads what a page ended with: the id of its last session.
func (f *fields) pageToken(field, token string) uint64 {
	if token == "" {
		return 0
	}
	id, err := strconv.ParseUint(token, 10, 64)
	if err != nil || id == 0 {
		f.wrong(field, "is not one that this hub gave: take next_page_token from the page before, or none for the newest")
	}
	return id
}
