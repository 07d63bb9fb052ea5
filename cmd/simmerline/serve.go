package main

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"os/signal"
	"syscall"

	"simmerline/hub"
	"simmerline/sensors"
	"simmerline/sensors/clock"
	"simmerline/sensors/poll"
	"simmerline/sensors/serialport"
)

// ServeCommand is `simmerline serve`.
type ServeCommand struct {
	Bench  string `required:"" placeholder:"FILE" help:"The bench file."`
	Listen string `default:"127.0.0.1:7410" placeholder:"ADDR" help:"Where programs reach the hub (${default})."`
	Web    string `default:"127.0.0.1:7411" placeholder:"ADDR" help:"Kept for the page, which this version does not serve yet."`
	Data   string `placeholder:"DIR" help:"Where the record is kept; by default in the platform's folder for state."`
	Lan    bool   `help:"Kept for serving other devices, which this version refuses: it has no TLS and no pairing yet."`
	Sound  string `placeholder:"HOW" help:"How the hub sounds, over what the bench file says: auto, none, bell, or a player."`
}

// Run is the hub until it is interrupted.
func (x *ServeCommand) Run(c console) error {
	if x.Lan {
		return wrongUse("--lan needs TLS and paired devices, which this version does not have yet; without it the hub serves this machine")
	}
	if err := loopback(x.Listen); err != nil {
		return err
	}
	b, err := readBench(c.Err, x.Bench)
	if err != nil {
		return err
	}
	data, err := dataFolder(x.Data)
	if err != nil {
		return err
	}
	listener, err := listen(x.Listen, false)
	if err != nil {
		return unreachable(err)
	}
	ends := []os.Signal{syscall.SIGINT, syscall.SIGTERM}
	if !signal.Ignored(syscall.SIGHUP) { // by nohup
		ends = append(ends, syscall.SIGHUP) // a terminal that is closed
	}
	ctx, stop := signal.NotifyContext(context.Background(), ends...)
	defer stop()
	// Whoever reads what is printed may leave: that must not end a hub, as a
	// write to nobody does unless this signal is asked for.
	signal.Notify(make(chan os.Signal, 1), syscall.SIGPIPE)
	out, said := newAside(c.Out), newAside(c.Err)
	defer out.close()
	defer said.close()
	c.Out, c.Err = out, said
	clk := clock.NewSystem()
	finder := serialport.Finder{}
	s := &station{
		bench: b, clock: clk, data: data, listener: listener, player: soundWord(x.Sound, b.Sound.String()),
		log: slog.New(slog.NewTextHandler(c.Err, nil)), present: serialport.Present,
		open: func(p sensors.PortConfig) (poll.Port, string, error) {
			device, err := finder.Resolve(p.Address)
			if err != nil {
				return nil, "", err
			}
			port, err := serialport.Open(device, p.Serial, clk)
			if err != nil {
				return nil, device, err
			}
			return port, device, nil
		},
	}
	told := make(chan struct{})
	s.ready = func(h *hub.Hub) {
		fmt.Fprintf(c.Out, "%s: water boils at %s here (%s).\n", b.Name, b.Units.Temperature(b.Site.Boiling), b.Site.From)
		fmt.Fprintf(c.Out, "The record is kept in %s.\n", h.Record().Dir())
		fmt.Fprintf(c.Out, "Other terminals on this machine: simmerline watch --hub %s\n", listener.Addr())
		fmt.Fprintln(c.Out, aidNotDetector)
		go func() {
			defer close(told)
			tellHub(ctx, c, h)
		}()
	}
	err = s.run(ctx)
	stop()
	if s.ready != nil && err == nil {
		<-told
	}
	return err
}

// aidNotDetector is said wherever somebody might take the program for more.
const aidNotDetector = "Simmerline is an aid, not a certified gas detector or safety interlock."

func soundWord(asked, fromBench string) string {
	if asked != "" {
		return asked
	}
	return fromBench
}
