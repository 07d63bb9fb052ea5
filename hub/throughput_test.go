package hub

import (
	"context"
	"fmt"
	"log/slog"
	"runtime"
	"strings"
	"testing"
	"time"

	"simmerline/hub/bench"
	"simmerline/hub/record"
	"simmerline/sensors"
	"simmerline/sensors/clock"
	"simmerline/sensors/lines"
)

// fast is a link that always holds one more line of sixteen readings.
type fast struct {
	line []byte
	at   time.Duration
}

func (f *fast) Read(p []byte, _ time.Duration) (int, time.Duration, error) {
	f.at += 100 * time.Millisecond
	return copy(p, f.line), f.at, nil
}
func (*fast) Write([]byte) error { return nil }
func (*fast) Discard() error     { return nil }

// BenchmarkDecodeRulesRecord takes readings on one processor from the bytes of
// a line through the driver, the rules and the record, whose disk is waited for
// before the measurement ends. One operation is one line of sixteen readings, as
// ten times a second; decode is the same without rules and record, and record
// the same without rules.
func BenchmarkDecodeRulesRecord(b *testing.B) {
	const channels = 16
	var text, line strings.Builder
	text.WriteString("bench: Pennywhistle Yard\nsite: {altitude: 1609 m}\nports:\n  - name: wire\n    device: {path: /dev/ttyUSB0}\n    protocol: lines\n    baud: 115200\n    format: name=value\n    channels:\n")
	for i := range channels {
		fmt.Fprintf(&text, "      - {name: t%d, quantity: temperature, from: t%d}\n", i, i)
		fmt.Fprintf(&line, "t%d=%d.25 ", i, 20+i)
	}
	text.WriteString("baths:\n  - {name: hot-sulfide, kind: sulfide, probes: [t0, t1], range: 55..75 C}\n")
	line.WriteString("\n")
	file, faults := bench.Parse("bench.yaml", []byte(text.String()))
	if len(faults) > 0 {
		b.Fatal(faults)
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	measure := func(b *testing.B, take func(sensors.Batch), end func()) {
		driver, err := lines.New(*file.Ports[0].Lines)
		if err != nil {
			b.Fatal(err)
		}
		link := &fast{line: []byte(line.String())}
		if _, err := driver.Exchange(link); err != nil { // the first line after an open is dropped
			b.Fatal(err)
		}
		for b.Loop() {
			got, err := driver.Exchange(link)
			if err != nil || len(got.Readings) != channels {
				b.Fatal(len(got.Readings), err)
			}
			take(sensors.Batch{Port: "wire", At: link.at, Readings: got.Readings})
		}
		end()
		b.ReportMetric(float64(b.N)*channels/b.Elapsed().Seconds(), "readings/s")
	}
	b.Run("decode", func(b *testing.B) { measure(b, func(sensors.Batch) {}, func() {}) })
	open := func(b *testing.B) *record.Record {
		rec, err := record.Open(b.TempDir(), record.Options{})
		if err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() {
			if lost := rec.Health().ReadingsLost; lost > 0 {
				b.Errorf("%d readings were not kept", lost)
			}
			rec.Close(context.Background())
		})
		return rec
	}
	b.Run("record", func(b *testing.B) {
		rec := open(b)
		if _, _, err := rec.Begin(record.RunInfo{BenchText: text.String(), Software: "test"}); err != nil {
			b.Fatal(err)
		}
		drain := func() {
			done := make(chan error, 1)
			if err := rec.Add(func(err error) { done <- err }, nil, &record.State{JSON: []byte("{}")}); err != nil {
				b.Fatal(err)
			}
			if err := <-done; err != nil {
				b.Fatal(err)
			}
		}
		queued := 0
		measure(b, func(batch sensors.Batch) {
			rec.AddReadings(readingRows(batch.Readings))
			if queued += channels; queued >= 4096 { // as the past is paced
				queued = 0
				drain()
			}
		}, drain)
	})
	b.Run("whole", func(b *testing.B) {
		rec := open(b)
		var past *Past
		_, err := New(b.Context(), Options{
			Bench: file, Clock: clock.NewManual(0, time.Date(2026, 5, 7, 13, 0, 0, 0, time.UTC)), Record: rec,
			Sounder: &quietSounder{}, Log: slog.New(slog.DiscardHandler), Software: "test",
			Earlier: &Earlier{Play: func(p *Past) error { past = p; return nil }},
		})
		if err != nil {
			b.Fatal(err)
		}
		measure(b, func(batch sensors.Batch) {
			if err := past.Batch(batch); err != nil {
				b.Fatal(err)
			}
		}, func() {
			if err := past.l.drain(b.Context()); err != nil {
				b.Fatal(err)
			}
		})
	})
}
