package main

import (
	"context"
	"errors"
	"time"

	"google.golang.org/grpc"

	"simmerline/hub"
	"simmerline/hub/grpcapi"
	"simmerline/hub/record"
	simmerlinepb "simmerline/proto/simmerline/v1"
)

// reviewWithin is how long a hub may take to go through a session: a day of a
// large bench is some millions of readings.
const reviewWithin = 2 * time.Minute

// ReviewCommand is `review`.
type ReviewCommand struct {
	Session string `arg:"" help:"The session's id, its name, or latest. 'session list' shows them."`
	JSON    bool   `name:"json" help:"Print one JSON object with every figure."`
	sourceFlags
}

// Help is what --help says beyond the flags.
func (*ReviewCommand) Help() string {
	return `Only good readings count, and none made under test. A reading counts until the next one of its channel, and at
most until that counts as silent; the mean is over time. An open session is looked back on as far as it has
come. Gas levels are those at the fume head, not worn.

With --json: temperatures are in °C ("..._celsius"), levels in ppm ("..._ppm"), lengths of time in seconds
("..._seconds"); a moment is the run of the hub, the offset in it in seconds, and the wall clock (RFC 3339).
A figure that there is none of is null. The lists are baths, gases, alarms, marks, dark and gaps; "limit_from"
says whose each limit is. The shape is added to, and never changed.

  simmerline review latest
  simmerline review "blue ring" --data DIR --json`
}

// Run looks back on one session.
func (x *ReviewCommand) Run(c console) error {
	var back hub.LookBack
	err := x.ask(c, reviewWithin,
		func(ctx context.Context, connection *grpc.ClientConn) error {
			answer, err := simmerlinepb.NewSessionServiceClient(connection).ReviewSession(ctx, &simmerlinepb.ReviewSessionRequest{Session: x.Session})
			if err == nil {
				back = grpcapi.ReviewFromWire(answer.GetReview())
			}
			return err
		},
		func(ctx context.Context, r *record.Reader) (err error) {
			back, err = hub.Review(ctx, r, x.Session)
			return err
		})
	if err != nil {
		if errors.Is(err, record.ErrNotFound) {
			return errors.New(plainly(err.Error()))
		}
		return err
	}
	if x.JSON {
		return printJSON(c, back)
	}
	return say(c, reviewText(back))
}
