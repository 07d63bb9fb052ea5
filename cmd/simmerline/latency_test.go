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

// toldSounder tells when it is told to sound a danger.
type toldSounder struct {
	quiet
	at chan time.Time
}

func (s toldSounder) Set(level notify.Level) {
	if level == notify.Danger {
		s.at <- time.Now()
	}
}

// spread gives the median and the 99th percentile in microseconds.
func spread(b *testing.B, what string, all []time.Duration) (median float64) {
	slices.Sort(all)
	median = float64(all[len(all)/2].Microseconds())
	b.ReportMetric(median, what+"-p50-us")
	b.ReportMetric(float64(all[len(all)*99/100].Microseconds()), what+"-p99-us")
	return median
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
// pseudo-terminal to the sounder being told, and to the alarm event at a gRPC
// client, which the record has written by then. Its peer in the same run is a
// bare read of a pseudo-terminal and a bare grpc-go stream. Run it as
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
	sounder := toldSounder{at: make(chan time.Time, 16)}
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
	ended := make(chan error, 3)
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
	var sounded, told []time.Duration
	for b.Loop() {
		began := time.Now()
		say("g=6")
		sounded = append(sounded, (<-sounder.at).Sub(began))
		told = append(told, await(simmerlinepb.AlarmCause_ALARM_CAUSE_RAISED).Sub(began))
		say("g=0")
		await(simmerlinepb.AlarmCause_ALARM_CAUSE_CLEARED)
	}
	b.StopTimer()
	cancel()
	for range 3 {
		<-ended
	}
	connection.Close()
	rec.Close(context.Background())
	bare := bareByteToStream(b, len(told))
	spread(b, "sounder", sounded)
	client, peer := spread(b, "client", told), spread(b, "bare", bare)
	b.ReportMetric(client/peer, "client/bare")
}

// bareByteToStream is the peer: a line read from a pseudo-terminal, and a
// message of a grpc-go stream for it, with nothing in between.
func bareByteToStream(b *testing.B, times int) (took []time.Duration) {
	master, slave := openWire(b)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	server, status := grpc.NewServer(), health.NewServer()
	healthgrpc.RegisterHealthServer(server, status)
	ended := make(chan error, 2)
	go func() { ended <- server.Serve(listener) }()
	go func() {
		scanner := bufio.NewScanner(slave)
		for scanner.Scan() {
			state := healthgrpc.HealthCheckResponse_NOT_SERVING
			if scanner.Text() == "1" {
				state = healthgrpc.HealthCheckResponse_SERVING
			}
			status.SetServingStatus("bare", state)
		}
		ended <- nil
	}()
	connection, err := grpcapi.Dial(listener.Addr().String())
	if err != nil {
		b.Fatal(err)
	}
	defer connection.Close()
	stream, err := healthgrpc.NewHealthClient(connection).Watch(b.Context(), &healthgrpc.HealthCheckRequest{Service: "bare"})
	if err != nil {
		b.Fatal(err)
	}
	if _, err := stream.Recv(); err != nil {
		b.Fatal(err)
	}
	for i := range times {
		began := time.Now()
		fmt.Fprintf(master, "%d\n", i%2)
		if _, err := stream.Recv(); err != nil {
			b.Fatal(err)
		}
		took = append(took, time.Since(began))
	}
	server.Stop()
	<-ended
	return took
}
