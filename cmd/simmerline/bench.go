package main

import (
	"context"
	"fmt"

	"google.golang.org/grpc"

	"simmerline/hub/grpcapi"
	simmerlinepb "simmerline/proto/simmerline/v1"
)

// BenchCommand groups what can be done with the bench as a whole.
type BenchCommand struct {
	Away BenchAwayCommand `cmd:"" help:"Put the bench away: lost sensors then call nobody, until a bath warms or gas is found."`
	Use  BenchUseCommand  `cmd:"" help:"Take the bench into use again."`
}

// BenchAwayCommand is `bench away`.
type BenchAwayCommand struct {
	By  string `required:"" placeholder:"WHO" help:"Who does it: it is kept with it."`
	Why string `placeholder:"TEXT" help:"Your word that a bath is cool whose probes can't tell. It never overrules a probe."`
	hubFlag
}

// Run puts the bench away.
func (x *BenchAwayCommand) Run(c console) error {
	return call(x.Hub, callWithin, func(ctx context.Context, connection *grpc.ClientConn) error {
		answer, err := simmerlinepb.NewBenchServiceClient(connection).PutAway(ctx,
			&simmerlinepb.PutAwayRequest{By: x.By, Why: x.Why})
		if err != nil {
			return err
		}
		return say(c, fmt.Sprintf("The bench is put away: its sensors call nobody until a bath warms or gas is found.\n%s",
			recordedLine(grpcapi.RecordedFromWire(answer.GetRecorded()))))
	})
}

// BenchUseCommand is `bench use`.
type BenchUseCommand struct {
	By string `required:"" placeholder:"WHO" help:"Who does it: it is kept with it."`
	hubFlag
}

// Run takes the bench into use.
func (x *BenchUseCommand) Run(c console) error {
	return call(x.Hub, callWithin, func(ctx context.Context, connection *grpc.ClientConn) error {
		answer, err := simmerlinepb.NewBenchServiceClient(connection).TakeIntoUse(ctx, &simmerlinepb.TakeIntoUseRequest{By: x.By})
		if err != nil {
			return err
		}
		return say(c, fmt.Sprintf("The bench is in use.\n%s", recordedLine(grpcapi.RecordedFromWire(answer.GetRecorded()))))
	})
}
