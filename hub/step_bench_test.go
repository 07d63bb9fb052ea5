package hub

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"strings"
	"testing"
	"time"

	"simmerline/hub/bench"
	"simmerline/hub/record"
	"simmerline/sensors"
	"simmerline/sensors/clock"
)

// wideBench has sixteen channels, four on each of four ports, in eight baths
// beside two gas cells.
func wideBench(b *testing.B) *bench.Bench {
	b.Helper()
	var text, baths strings.Builder
	text.WriteString("bench: Pennywhistle Yard\nsite: {altitude: 1609 m}\nports:\n")
	for port := range 4 {
		fmt.Fprintf(&text, "  - name: wire%d\n    device: {path: /dev/ttyUSB%d}\n    protocol: lines\n    baud: 115200\n    format: name=value\n    channels:\n", port, port)
		for c := range 4 {
			if port == 3 && c > 1 {
				fmt.Fprintf(&text, "      - {name: gas%d, quantity: gas, gas: %s, from: g%d, range: \"-5..100 ppm\"}\n", c, []string{"h2s", "so2"}[c-2], c)
				continue
			}
			fmt.Fprintf(&text, "      - {name: t%d%d, quantity: temperature, from: t%d}\n", port, c, c)
		}
		fmt.Fprintf(&baths, "  - {name: bath%d, kind: sulfide, probes: [t%d0, t%d1], range: 55..75 C}\n", port, port, port)
		if port < 3 {
			fmt.Fprintf(&baths, "  - {name: rinse%d, kind: rinse, probes: [t%d2, t%d3]}\n", port, port, port)
		}
	}
	parsed, faults := bench.Parse("wide.yaml", []byte(text.String()+"baths:\n"+baths.String()))
	if len(faults) > 0 {
		b.Fatal(faults)
	}
	return parsed
}

// wideLoop is a loop over a wide bench that nobody runs, with what each port
// says in one batch.
func wideLoop(b *testing.B) (*loop, [][]sensors.Channel, *clock.Manual) {
	b.Helper()
	rec, err := record.Open(b.TempDir(), record.Options{})
	if err != nil {
		b.Fatal(err)
	}
	manual := clock.NewManual(0, afternoon)
	h, err := New(b.Context(), Options{
		Bench: wideBench(b), Clock: manual, Record: rec, Sounder: &quietSounder{}, Log: slog.New(slog.NewTextHandler(io.Discard, nil)),
	})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		close(h.done)
		if err := rec.Close(context.Background()); err != nil {
			b.Error(err)
		}
	})
	var ports [][]sensors.Channel
	for _, p := range h.options.Bench.Ports {
		ports = append(ports, p.Channels())
	}
	return h.loop, ports, manual
}

func wideBatch(channels []sensors.Channel, at time.Duration) sensors.Batch {
	batch := sensors.Batch{Port: "wire", At: at}
	for i, c := range channels {
		v := 60 + 0.1*float64((int(at/time.Millisecond)+i)%7)
		if c.Quantity == sensors.GasLevel {
			v = 0.1
		}
		batch.Readings = append(batch.Readings, c.Convert(at, v))
	}
	return batch
}

// BenchmarkStep is the loop's turn for a batch of four readings on a bench of
// sixteen channels, without the publishing.
func BenchmarkStep(b *testing.B) {
	l, ports, manual := wideLoop(b)
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		manual.Advance(25 * time.Millisecond)
		l.batch(wideBatch(ports[i%len(ports)], manual.Now()))
	}
}

// BenchmarkSnapshot is what a published state costs on such a bench; at most
// ten are made in a second.
func BenchmarkSnapshot(b *testing.B) {
	l, ports, manual := wideLoop(b)
	for i := range 4000 {
		manual.Advance(25 * time.Millisecond)
		l.batch(wideBatch(ports[i%len(ports)], manual.Now()))
	}
	b.ReportAllocs()
	for b.Loop() {
		_ = l.snapshot()
	}
}
