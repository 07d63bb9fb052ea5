package review

import (
	"context"
	"iter"
	"slices"
	"time"

	"simmerline/hub/record"
	"simmerline/sensors"
)

// memory is a Source in plain slices.
type memory struct {
	readings []record.Reading
	events   []record.Event
	marks    []record.Mark
	gaps     []record.Gap
	timeline record.Timeline
}

func inside(m record.Moment, within record.Range) bool {
	return m.Compare(within.From) >= 0 && m.Compare(within.Until) < 0
}

func (m memory) Readings(_ context.Context, within record.Range, channels ...string) iter.Seq2[record.Reading, error] {
	return func(yield func(record.Reading, error) bool) {
		for _, r := range m.readings {
			if inside(r.Moment(), within) && slices.Contains(channels, r.Channel) && !yield(r, nil) {
				return
			}
		}
	}
}

func (m memory) Events(_ context.Context, within record.Range) iter.Seq2[record.Event, error] {
	return func(yield func(record.Event, error) bool) {
		for _, e := range m.events {
			if inside(e.Moment, within) && !yield(e, nil) {
				return
			}
		}
	}
}

func (m memory) Marks(context.Context, record.Range) ([]record.Mark, error) { return m.marks, nil }
func (m memory) Gaps(context.Context, record.Range) ([]record.Gap, error)   { return m.gaps, nil }
func (m memory) Timeline(context.Context) (record.Timeline, error)          { return m.timeline, nil }

var noon = time.Date(2026, 3, 5, 13, 0, 0, 0, time.UTC)

func at(run int64, second float64) record.Moment {
	return record.Moment{Run: run, At: time.Duration(second * float64(time.Second))}
}

// celsius is a good reading; NaN-free by the caller.
func celsius(channel string, when record.Moment, value float64) record.Reading {
	return record.Reading{Run: when.Run, Reading: sensors.Reading{
		Channel: channel, At: when.At, Quality: sensors.QualityGood, Value: sensors.MustValue(sensors.Temperature, value),
	}}
}

func ppm(channel string, when record.Moment, value float64) record.Reading {
	r := celsius(channel, when, 0)
	r.Value = sensors.MustValue(sensors.GasLevel, value)
	return r
}

func bad(channel string, when record.Moment, reason sensors.Reason) record.Reading {
	return record.Reading{Run: when.Run, Reading: sensors.Reading{
		Channel: channel, At: when.At, Quality: sensors.QualityBad, Reason: reason,
	}}
}

func underTest(r record.Reading) record.Reading {
	r.Test = true
	return r
}

func ptr[T any](v T) *T { return &v }
