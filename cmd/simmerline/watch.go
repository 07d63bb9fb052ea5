package main

import (
	"context"
	"errors"
	"os/signal"
	"syscall"

	"google.golang.org/grpc"

	"simmerline/cmd/simmerline/screen"
	"simmerline/cmd/simmerline/stream"
	"simmerline/hub/grpcapi"
)

// WatchCommand is `simmerline watch`: a hub, live in the terminal.
type WatchCommand struct {
	hubFlag
	JSON  bool   `name:"json" xor:"how" help:"Print every message of the hub as one line of JSON, for programs."`
	Plain bool   `xor:"how" help:"Print a line for each event and a summary every 10 s; done without asking where there is no terminal."`
	Mute  bool   `help:"Don't ring the terminal's bell; the hub then does not count on this screen to call anybody."`
	As    string `placeholder:"NAME" help:"Who acknowledges and resets here; without it the screen asks once."`
	Units string `enum:"bench,celsius,fahrenheit" default:"bench" help:"Show temperatures as the bench file says, or in celsius or fahrenheit (${default})."`
}

// Help is what --help says beyond the flags.
func (*WatchCommand) Help() string {
	return `In a terminal this is a live screen: what to do now, the standing alarms, every bath and gas, and what is
not well. It rings the bell while an alarm sounds, and when the hub falls silent. --json prints the hub's
messages as they come, one WatchResponse of the API in each line; a broken stream is taken up again where it
broke off. Ends with 3 when the hub can't be reached at first.`
}

// Run watches until it is interrupted.
func (x *WatchCommand) Run(c console) error {
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGINT, syscall.SIGTERM)
	defer stop()
	switch {
	case x.JSON:
		return runJSON(ctx, c, x.Hub)
	case x.Plain || !isTerminal(c.Out):
		return runLines(ctx, c.Out, x.Hub, linesOptions{units: x.units()})
	default:
		return runScreen(ctx, c, x.Hub, screenOptions{Options: screen.Options{Units: x.units(), Mute: x.Mute, Name: x.As}})
	}
}

func (x *WatchCommand) units() screen.Units {
	switch x.Units {
	case "celsius":
		return screen.UnitsCelsius
	case "fahrenheit":
		return screen.UnitsFahrenheit
	default:
		return screen.UnitsOfBench
	}
}

// dialHub makes a connection to a hub; a wrong address is wrong use.
func dialHub(address string) (*grpc.ClientConn, error) {
	connection, err := grpcapi.Dial(address)
	if err != nil {
		return nil, wrongUse("--hub %s is no address: give host:port, as %s", address, defaultHub)
	}
	return connection, nil
}

// listening is a hub's messages on a channel, which the goroutine behind it closes
// when the stream is over; err is then why.
type listening struct {
	messages chan stream.Message
	err      error
	stop     context.CancelFunc
}

// listenTo begins to follow the hub at an address. close is to be called in the
// end, and waits until nothing of it runs any more.
func listenTo(ctx context.Context, connection grpc.ClientConnInterface, address string, station bool) *listening {
	ctx, stop := context.WithCancel(ctx)
	s := &listening{messages: make(chan stream.Message), stop: stop}
	go func() {
		defer close(s.messages)
		s.err = stream.Hub(ctx, connection, station, func(m stream.Message) error {
			select {
			case s.messages <- m:
				return nil
			case <-ctx.Done():
				return ctx.Err()
			}
		})
		if ctx.Err() != nil {
			s.err = nil
		}
		if errors.Is(s.err, stream.ErrNotReached) {
			s.err = unreachable(explain(address, s.err))
		}
	}()
	return s
}

// close ends the stream.
func (s *listening) close() {
	s.stop()
	for range s.messages { // until it is closed
	}
}
