package grpcapi

import (
	"context"

	simmerlinepb "simmerline/proto/simmerline/v1"
)

// ReviewSession looks back on a session.
func (s sessionService) ReviewSession(ctx context.Context, r *simmerlinepb.ReviewSessionRequest) (*simmerlinepb.ReviewSessionResponse, error) {
	var f fields
	f.needed("session", r.GetSession(), "give an id, a name or latest")
	if err := f.err(); err != nil {
		return nil, err
	}
	back, err := s.hub.Review(ctx, r.GetSession())
	if err != nil {
		return nil, statusOf(err)
	}
	return &simmerlinepb.ReviewSessionResponse{Review: reviewToWire(back)}, nil
}
