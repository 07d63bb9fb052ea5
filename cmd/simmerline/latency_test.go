//go:build unix

package main

import (
	"bufio"
	"context"
	"fmt"
	"log/slog"
	"net"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
	"golang.org/x/term"
	"google.golang.org/grpc"
	"google.golang.org/grpc/health"
	healthgrpc "google.golang.org/grpc/health/grpc_health_v1"

	"simmerline/hub"
	"simmerline/hub/bench"
	"simmerline/hub/grpcapi"
	"simmerline/hub/notify"
	"simmerline/hub/record"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/sensors/clock"
	"simmerline/sensors/poll"
	"simmerline/sensors/serialport"
)

const latencyBench = `
bench: Pennywhistle Yard
site: {altitude: 1609 m}
ports:
  - name: wire
    device: {path: %s}
    protocol: lines
    baud: 115200
    format: name=value
    channels:
      - {name: gas, quantity: gas, gas: h2s, from: g, range: "-5..100 ppm", silent_after: 60 s}
rules:
  - {name: fume-gas-danger, off_delay: 0 s, latching: false}
`

// toldSounder is the hub's own sounder; it tells when it is told to sound a danger.
type toldSounder struct {
	*notify.Sounder
	told chan time.Time
}

func (s toldSounder) Set(level notify.Level) {
	if level == notify.Danger {
		s.told <- time.Now()
	}
	s.Sounder.Set(level)
}

// newToldSounder makes a sounder with a stand-in for a player, and tells when
// the player's process has been started for a danger.
func newToldSounder(b *testing.B) (s toldSounder, started chan time.Time) {
	b.Helper()
	environment, _ := fakePlayer(b)
	b.Setenv("PATH", strings.TrimPrefix(environment[0], "PATH="))
	started = make(chan time.Time, 16)
	sounder, err := notify.New(notify.Config{Player: "aplay"}, notify.Hooks{Started: func(level notify.Level, at time.Time) {
		if level == notify.Danger {
			started <- at
		}
	}})
	if err != nil {
		b.Fatal(err)
	}
	return toldSounder{Sounder: sounder, told: make(chan time.Time, 16)}, started
}

// quiet waits until the player is known to work and plays nothing.
func (s toldSounder) quiet() {
	for state := s.State(); !state.CanSound || state.Sounding != notify.Silence; state = s.State() {
		time.Sleep(100 * time.Microsecond)
	}
}

// spread reports the median and the 99th percentile in microseconds.
func spread(b *testing.B, what string, all []time.Duration) (median, worst float64) {
	slices.Sort(all)
	median = float64(all[len(all)/2].Microseconds())
	worst = float64(all[len(all)*99/100].Microseconds())
	b.ReportMetric(median, what+"-p50-us")
	b.ReportMetric(worst, what+"-p99-us")
	return median, worst
}

func openWire(b *testing.B) (master, slave *os.File) {
	b.Helper()
	master, slave, err := pty.Open()
	if err != nil {
		b.Skip("no pseudo-terminals here: ", err)
	}
	if _, err := term.MakeRaw(int(slave.Fd())); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { master.Close(); slave.Close() })
	return master, slave
}

// BenchmarkByteToAlarm measures from the last byte written into a
// pseudo-terminal to the sounder being told, to its player's process being
// started, and to the alarm event at a gRPC client, which the record has written
// by then. Its peer, taken in turn with it, is a bare read of a pseudo-terminal
// and a bare grpc-go stream. Run it as
// go test -bench ByteToAlarm -benchtime 1000x ./cmd/simmerline
func BenchmarkByteToAlarm(b *testing.B) {
	master, slave := openWire(b)
	benchFile, faults := bench.Parse("bench.yaml", fmt.Appendf(nil, latencyBench, slave.Name()))
	if len(faults) > 0 {
		b.Fatal(faults)
	}
	rec, err := record.Open(b.TempDir(), record.Options{})
	if err != nil {
		b.Fatal(err)
	}
	sounder, started := newToldSounder(b)
	clk, log := clock.NewSystem(), slog.New(slog.DiscardHandler)
	h, err := hub.New(b.Context(), hub.Options{Bench: benchFile, Clock: clk, Record: rec, Sounder: sounder, Log: log, Software: "test"})
	if err != nil {
		b.Fatal(err)
	}
	server, err := grpcapi.New(grpcapi.Options{Hub: grpcapi.Of(h), Bench: benchFile, Log: log})
	if err != nil {
		b.Fatal(err)
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	config := benchFile.Ports[0]
	driver, err := newDriver(config)
	if err != nil {
		b.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 4)
	go func() { sounder.Run(ctx); ended <- nil }()
	go func() { ended <- server.Serve(ctx, listener) }()
	go func() { h.Run(ctx); ended <- nil }()
	go func() {
		ended <- poll.Run(ctx, poll.Options{Config: config, Driver: driver, Clock: clk, Deliver: h.Deliver,
			Open: func() (poll.Port, string, error) {
				port, err := serialport.Open(slave.Name(), config.Serial, clk)
				return port, slave.Name(), err
			}})
	}()
	connection, err := grpcapi.Dial(listener.Addr().String())
	if err != nil {
		b.Fatal(err)
	}
	stream, err := simmerlinepb.NewWatchServiceClient(connection).Watch(ctx, &simmerlinepb.WatchRequest{})
	if err != nil {
		b.Fatal(err)
	}
	say := func(text string) {
		if _, err := master.WriteString(text + "\n"); err != nil {
			b.Fatal(err)
		}
	}
	await := func(cause simmerlinepb.AlarmCause) time.Time {
		for {
			message, err := stream.Recv()
			if err != nil {
				b.Fatal(err)
			}
			if e := message.GetAlarmEvent(); e.GetName() == "fume-gas-danger" && e.GetCause() == cause {
				return time.Now()
			}
		}
	}
	for h.Snapshot() == nil || !h.Snapshot().View.Channels[0].Reading.Value.Known() {
		say("g=0") // until the port is open: what comes before is dropped
		time.Sleep(20 * time.Millisecond)
	}
	bare := newBarePeer(b)
	var read, streamed, sounded, played, told []time.Duration
	for b.Loop() {
		sounder.quiet()
		began := time.Now()
		say("g=6")
		sounded = append(sounded, (<-sounder.told).Sub(began))
		told = append(told, await(simmerlinepb.AlarmCause_ALARM_CAUSE_RAISED).Sub(began))
		played = append(played, (<-started).Sub(began))
		say("g=0")
		await(simmerlinepb.AlarmCause_ALARM_CAUSE_CLEARED)
		atRead, atClient := bare.once()
		read, streamed = append(read, atRead), append(streamed, atClient)
	}
	b.StopTimer()
	cancel()
	for range cap(ended) {
		if err := <-ended; err != nil {
			b.Error(err)
		}
	}
	connection.Close()
	rec.Close(context.Background())
	median, worst := spread(b, "bare-client", streamed)
	spread(b, "bare-read", read)
	spread(b, "sounder", sounded)
	spread(b, "player", played)
	clientMedian, clientWorst := spread(b, "client", told)
	b.ReportMetric(clientMedian/median, "client/bare-p50")
	b.ReportMetric(clientWorst/worst, "client/bare-p99")
}

// barePeer reads a line from a pseudo-terminal and sends a message of a grpc-go
// stream for it, with nothing in between.
type barePeer struct {
	b      *testing.B
	master *os.File
	read   chan time.Time
	stream grpc.ServerStreamingClient[healthgrpc.HealthCheckResponse]
	turn   int
}

func newBarePeer(b *testing.B) *barePeer {
	b.Helper()
	master, slave := openWire(b)
	p := &barePeer{b: b, master: master, read: make(chan time.Time, 1)}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	server, status := grpc.NewServer(), health.NewServer()
	healthgrpc.RegisterHealthServer(server, status)
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	go func() {
		for scanner := bufio.NewScanner(slave); scanner.Scan(); {
			p.read <- time.Now()
			state := healthgrpc.HealthCheckResponse_NOT_SERVING
			if scanner.Text() == "1" {
				state = healthgrpc.HealthCheckResponse_SERVING
			}
			status.SetServingStatus("bare", state)
		}
	}()
	connection, err := grpcapi.Dial(listener.Addr().String())
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		connection.Close()
		server.Stop()
		if err := <-ended; err != nil {
			b.Error(err)
		}
	})
	p.stream, err = healthgrpc.NewHealthClient(connection).Watch(context.Background(), &healthgrpc.HealthCheckRequest{Service: "bare"})
	if err != nil {
		b.Fatal(err)
	}
	if _, err := p.stream.Recv(); err != nil {
		b.Fatal(err)
	}
	return p
}

// once is one line and its message.
func (p *barePeer) once() (read, streamed time.Duration) {
	p.turn++
	began := time.Now()
	fmt.Fprintf(p.master, "%d\n", p.turn%2)
	if _, err := p.stream.Recv(); err != nil {
		p.b.Fatal(err)
	}
	streamed = time.Since(began)
	return (<-p.read).Sub(began), streamed
}
