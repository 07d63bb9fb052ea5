package grpcapi

import (
	"context"

	simmerlinepb "simmerline/proto/simmerline/v1"
)

// benchService tells of the bench, and puts it away.
type benchService struct {
	simmerlinepb.UnimplementedBenchServiceServer
	*served
}

func (s benchService) GetBench(context.Context, *simmerlinepb.GetBenchRequest) (*simmerlinepb.GetBenchResponse, error) {
	snapshot, err := s.snapshot()
	if err != nil {
		return nil, err
	}
	return &simmerlinepb.GetBenchResponse{Bench: benchToWire(s.bench, snapshot.View)}, nil
}

func (s benchService) PutAway(ctx context.Context, r *simmerlinepb.PutAwayRequest) (*simmerlinepb.PutAwayResponse, error) {
	var f fields
	f.who(r.GetBy())
	f.text("why", r.GetWhy())
	if err := f.err(); err != nil {
		return nil, err
	}
	recorded, err := s.hub.PutAway(ctx, r.GetBy(), r.GetWhy())
	if err != nil {
		return nil, statusOf(err)
	}
	return &simmerlinepb.PutAwayResponse{Recorded: recordedGrades.wire(recorded)}, nil
}

func (s benchService) TakeIntoUse(ctx context.Context, r *simmerlinepb.TakeIntoUseRequest) (*simmerlinepb.TakeIntoUseResponse, error) {
	if err := needWho(r.GetBy()); err != nil {
		return nil, err
	}
	recorded, err := s.hub.TakeIntoUse(ctx, r.GetBy())
	if err != nil {
		return nil, statusOf(err)
	}
	return &simmerlinepb.TakeIntoUseResponse{Recorded: recordedGrades.wire(recorded)}, nil
}

// needWho wants to know who asks, and nothing else.
func needWho(by string) error {
	var f fields
	f.who(by)
	return f.err()
}
