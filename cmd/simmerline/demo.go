package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/signal"
	"strings"
	"sync"
	"syscall"
	"time"

	"simmerline/hub"
	"simmerline/hub/bench"
	"simmerline/rules/boiling"
	"simmerline/sensors"
	"simmerline/sensors/clock"
	"simmerline/sensors/poll"
	"simmerline/sensors/serialport"
	"simmerline/sensors/simbench"
)

// fastest is how many times faster than real time a demo may run.
const fastest = 60

// DemoCommand is `simmerline demo`.
type DemoCommand struct {
	For      time.Duration `placeholder:"TIME" help:"Stop after this much real time, as 30s; without it the demo goes on until it is interrupted."`
	Speed    float64       `default:"20" help:"How many times faster than real time the story runs, 1 to 60 (${default})."`
	Scenario string        `default:"afternoon" placeholder:"NAME" help:"Which story: ${scenarios} (${default})."`
	Listen   string        `default:"127.0.0.1:7410" placeholder:"ADDR" help:"Where programs reach the hub (${default}, or a free port when that is in use)."`
	Web      string        `default:"127.0.0.1:7411" placeholder:"ADDR" help:"Kept for the page, which this version does not serve yet."`
	Data     string        `placeholder:"DIR" help:"Where the record is kept; by default in a fresh folder, whose name is printed."`
	Seed     uint64        `default:"1" help:"The same seed gives the same story (${default})."`
	Sound    string        `default:"auto" placeholder:"HOW" help:"How the hub sounds: auto, none, bell, or a player (${default})."`
	Lines    bool          `help:"Print lines in a terminal too, instead of the live screen."`
}

// demo is a demo under way.
type demo struct {
	c        console
	x        *DemoCommand
	bench    *bench.Bench
	scenario simbench.Scenario
	sim      *simbench.Bench
	clock    *clock.Story
	zero     time.Time // the wall clock at offset 0
	data     string
	folder   string          // of the ports' names
	wires    *simbench.Wires // nil without pseudo-terminals
	intakes  map[string]*sensors.Intake
	address  string
	log      *slog.Logger
	startClk sync.Once
	running  sync.WaitGroup
}

// Run plays a story on the simulated bench, read by the same drivers as a real one.
func (x *DemoCommand) Run(c console) error {
	if x.Speed < 1 || x.Speed > fastest {
		return wrongUse("--speed %g can't be: give 1 to %d", x.Speed, fastest)
	}
	if err := loopback(x.Listen); err != nil {
		return err
	}
	d, err := x.setUp(c)
	if err != nil {
		return err
	}
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGINT, syscall.SIGTERM)
	defer stop()
	if x.For > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, x.For)
		defer cancel()
	}
	err = d.run(ctx)
	if ctx.Err() != nil && errors.Is(err, ctx.Err()) {
		return nil // it was stopped while it was still beginning
	}
	return err
}

// setUp makes everything that needs no goroutine.
func (x *DemoCommand) setUp(c console) (*demo, error) {
	scenario, ok := simbench.Find(x.Scenario)
	if !ok {
		return nil, wrongUse("there is no scenario %q; there are: %s", x.Scenario, scenarioNames())
	}
	b, faults := bench.Parse("pennywhistle.yaml", simbench.BenchFile())
	if len(faults) > 0 {
		return nil, fmt.Errorf("the demo's own bench file has faults: %v", faults)
	}
	pressure, err := boiling.SaturationPressure(b.Site.Boiling)
	if err != nil {
		return nil, err
	}
	sim, err := simbench.NewBench(scenario, simbench.Site{Boiling: b.Site.Boiling, Pressure: pressure}, x.Seed)
	if err != nil {
		return nil, err
	}
	d := &demo{c: c, x: x, bench: b, scenario: scenario, sim: sim, data: x.Data, log: slog.New(slog.DiscardHandler)}
	if d.data == "" {
		if d.data, err = os.MkdirTemp("", "simmerline-demo-"); err != nil {
			return nil, fmt.Errorf("no folder for the record: %w; name one with --data", err)
		}
	}
	now := time.Now()
	d.zero = time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, now.Location()).Add(scenario.TimeOfDay())
	d.clock = clock.NewStory(scenario.OpensAt, d.zero, x.Speed)
	return d, nil
}

func scenarioNames() string {
	var names []string
	for _, s := range simbench.Scenarios() {
		names = append(names, s.Name)
	}
	return strings.Join(names, ", ")
}

// run plays the story until ctx ends.
func (d *demo) run(ctx context.Context) error {
	folder, err := os.MkdirTemp("", "simmerline-ports-")
	if err != nil {
		return fmt.Errorf("no folder for the demo's ports: %w", err)
	}
	defer os.RemoveAll(folder)
	listener, err := listen(d.x.Listen, true)
	if err != nil {
		return unreachable(err)
	}
	d.address = listener.Addr().String()
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	// The bench outlasts every hub: were it taken away first, the last thing a
	// hub said would be that its sensors have gone.
	onBench, putAway := context.WithCancel(context.WithoutCancel(ctx))
	defer d.running.Wait()
	defer putAway()
	d.folder = folder
	d.greet()
	shown := make(chan error, 1)
	showing := false
	for first := true; listener != nil && err == nil; first = false {
		var dark bool
		s := d.station(first)
		s.listener = listener
		s.ready = func(*hub.Hub) {
			d.begin(onBench)
			if !showing {
				showing = true
				go func() {
					defer cancel() // who leaves the screen leaves the demo
					shown <- d.show(ctx)
				}()
			}
		}
		if dark, err = d.untilDark(ctx, s); !dark {
			break
		}
		listener, err = d.powerBack(ctx)
	}
	cancel()
	if showing {
		err = errors.Join(err, <-shown)
	}
	d.farewell()
	return err
}

// greet says what this is and where other clients find it.
func (d *demo) greet() {
	w := d.c.Out
	fmt.Fprintf(w, "Simmerline demo: %s.\n", d.scenario.Title)
	fmt.Fprintf(w, "Everything here is simulated, at %g times real time; the drivers, rules and record are the real ones.\n", d.x.Speed)
	fmt.Fprintf(w, "Other terminals:  simmerline watch --hub %s\n", d.address)
	fmt.Fprintf(w, "Afterwards:       simmerline review latest --data %s\n", d.data)
	fmt.Fprintln(w, aidNotDetector)
}

func (d *demo) farewell() {
	fmt.Fprintf(d.c.Out, "The demo's record is in %s; look back with: simmerline review latest --data %s\n", d.data, d.data)
}

// begin starts the story's clock and the devices, once.
func (d *demo) begin(ctx context.Context) {
	d.startClk.Do(func() {
		d.running.Go(func() { d.clock.Run(ctx) })
		if d.wires != nil {
			d.running.Go(func() {
				if err := d.wires.Run(ctx); err != nil {
					fmt.Fprintln(d.c.Err, "simmerline: the simulated devices stopped:", err)
				}
			})
		}
	})
}

// open opens a port of the simulated bench.
func (d *demo) open(p sensors.PortConfig) (poll.Port, string, error) {
	if d.wires == nil {
		port, err := d.sim.Open(p.Name, d.clock)
		if err != nil {
			return nil, "", &sensors.OpenError{Kind: sensors.ErrMissing, Sentence: "the simulated adapter is not plugged in"}
		}
		return port, "in memory", nil
	}
	device := d.wires.Node(p.Name)
	port, err := serialport.Open(device, p.Serial, d.clock)
	if err != nil {
		return nil, device, err
	}
	return port, device, nil
}

// show shows the hub on the console until ctx ends or the person leaves.
func (d *demo) show(ctx context.Context) error {
	if !d.x.Lines && isTerminal(d.c.Out) {
		return runScreen(ctx, d.c, d.address, screenOptions{})
	}
	return runLines(ctx, d.c.Out, d.address, linesOptions{every: 2 * time.Second})
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && terminal(f)
}
