package main

import (
	"context"
	"log/slog"
	"net"
	"regexp"
	"testing"
	"time"

	"simmerline/hub"
	"simmerline/hub/bench"
	"simmerline/hub/grpcapi"
	"simmerline/hub/notify"
	"simmerline/hub/record"
	"simmerline/sensors"
	"simmerline/sensors/clock"
)

// quietBench is a bench of one bath and one gas, on ports that nothing opens.
const quietBench = `
bench: Pennywhistle Yard
site: {altitude: 1609 m}
ports:
  - name: wire
    device: {path: /dev/ttyUSB0}
    protocol: lines
    baud: 115200
    format: name=value
    channels:
      - {name: hot, quantity: temperature, from: t1}
  - name: head
    device: {path: /dev/ttyUSB1}
    protocol: modbus
    baud: 19200
    unit: 17
    channels:
      - {name: h2s, quantity: gas, gas: h2s, function: 4, register: 0, type: int16, range: "-5..100 ppm"}
baths:
  - {name: hot-sulfide, label: hot sulfide, kind: sulfide, probes: [hot], range: 55..75 C}
`

func parsed(t *testing.T, text string) *bench.Bench {
	t.Helper()
	b, faults := bench.Parse("bench.yaml", []byte(text))
	if len(faults) > 0 {
		t.Fatalf("the test's bench has faults: %v", faults)
	}
	return b
}

// quiet is a sounder that makes no sound.
type quiet struct{}

func (quiet) Set(notify.Level)    {}
func (quiet) State() notify.State { return notify.State{Checked: true, CanSound: true, By: "test"} }

// served is a running hub with its server on a port of this machine.
type served struct {
	t       *testing.T
	hub     *hub.Hub
	bench   *bench.Bench
	clock   clock.Clock
	address string
	data    string
	stop    func()
}

// serve runs a hub until the test ends or stop is called.
func serve(t *testing.T) *served {
	t.Helper()
	s := &served{t: t, bench: parsed(t, quietBench), clock: clock.NewSystem(), data: t.TempDir()}
	rec, err := record.Open(s.data, record.Options{})
	if err != nil {
		t.Fatal(err)
	}
	log := slog.New(slog.DiscardHandler)
	s.hub, err = hub.New(t.Context(), hub.Options{
		Bench: s.bench, Clock: s.clock, Record: rec, Sounder: quiet{}, Log: log, Software: "test",
	})
	if err != nil {
		t.Fatal(err)
	}
	server, err := grpcapi.New(grpcapi.Options{Hub: grpcapi.Of(s.hub), Bench: s.bench, Log: log})
	if err != nil {
		t.Fatal(err)
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	s.address = listener.Addr().String()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 2)
	go func() { ended <- server.Serve(ctx, listener) }()
	go func() { s.hub.Run(ctx); ended <- nil }()
	stopped := false
	s.stop = func() {
		if stopped {
			return
		}
		stopped = true
		cancel()
		for range 2 {
			if err := <-ended; err != nil {
				t.Error(err)
			}
		}
		if err := rec.Close(context.Background()); err != nil {
			t.Error(err)
		}
	}
	t.Cleanup(s.stop)
	return s
}

// hear delivers a reading of each channel and waits until the hub has said all
// the given things of alarms, as "fume-h2s-danger raised".
func (s *served) hear(values map[string]float64, said ...string) {
	s.t.Helper()
	ctx, cancel := context.WithTimeout(s.t.Context(), 20*time.Second)
	defer cancel()
	w, err := s.hub.Watch(ctx, hub.WatchOptions{})
	if err != nil {
		s.t.Fatal(err)
	}
	defer w.Close()
	for _, p := range s.bench.Ports {
		batch := sensors.Batch{Port: p.Name, At: s.clock.Now()}
		for _, c := range p.Channels() {
			if v, given := values[c.Name]; given {
				batch.Readings = append(batch.Readings, c.Convert(batch.At, v))
			}
		}
		s.hub.Deliver(batch)
	}
	awaited := make(map[string]bool)
	for _, what := range said {
		awaited[what] = true
	}
	for len(awaited) > 0 {
		update, err := w.Next(ctx)
		if err != nil {
			s.t.Fatalf("waiting for %v: %v", awaited, err)
		}
		for _, a := range update.Announcements {
			if a.Alarm != nil {
				delete(awaited, a.Alarm.Alarm+" "+a.Alarm.Cause.String())
			}
		}
	}
}

var (
	anyDate   = regexp.MustCompile(`\d{4}-\d\d-\d\d`)
	anySecond = regexp.MustCompile(`\d\d:\d\d:\d\d`)
	anyMinute = regexp.MustCompile(`\d\d:\d\d`)
)

// timeless makes every date and time of day in a text the same.
func timeless(text string) string {
	text = anySecond.ReplaceAllString(anyDate.ReplaceAllString(text, "YYYY-MM-DD"), "HH:MM:SS")
	return anyMinute.ReplaceAllString(text, "HH:MM")
}
