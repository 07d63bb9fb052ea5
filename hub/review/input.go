package review

import (
	"context"
	"iter"
	"time"

	"simmerline/hub/record"
	"simmerline/sensors"
)

// Source is what a review reads from; *record.Reader is one. Readings come in
// the order of their moments.
type Source interface {
	Readings(ctx context.Context, within record.Range, channels ...string) iter.Seq2[record.Reading, error]
	Events(ctx context.Context, within record.Range) iter.Seq2[record.Event, error]
	Marks(ctx context.Context, within record.Range) ([]record.Mark, error)
	Gaps(ctx context.Context, within record.Range) ([]record.Gap, error)
	Timeline(ctx context.Context) (record.Timeline, error)
}

// Bench is what a review must know of the bench.
type Bench struct {
	Baths []Bath
	Gases []Gas
}

// Channel is a channel and how long one reading of it holds: its silence limit.
type Channel struct {
	Name  string
	Holds time.Duration
}

// Bath is a bath with its temperature channels.
type Bath struct {
	Name, Title string
	Probes      []Channel
	// Range is the working range in °C, nil where there is none.
	Range *Span
	// Limit is the danger setpoint in °C, nil where there is none.
	Limit *sensors.Celsius
}

// Span is from one temperature to another, both included.
type Span struct{ Low, High sensors.Celsius }

// Gas is a gas channel.
type Gas struct {
	Channel
	Title string
	Gas   sensors.Gas
	// Limit is the danger setpoint in ppm, nil where there is none.
	Limit *sensors.PPM
}

// Stretch gives the range of a session: until just after its end, or while it
// is open just after the newest thing in the record.
func Stretch(s record.Session, t record.Timeline) record.Range {
	until := s.End
	if s.Open() {
		return record.Range{From: s.Start, Until: t.Last(0).Until}
	}
	until.At++
	return record.Range{From: s.Start, Until: until}
}
