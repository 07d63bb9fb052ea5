package record

import (
	"context"
	"iter"
	"math"
	"strings"
	"time"

	"github.com/ncruces/go-sqlite3"

	"simmerline/sensors"
)

// pageRows is how many rows one query fetches. Between pages no transaction is
// open, so that a slow consumer never holds back the log's housekeeping.
const pageRows = 2000

// Readings streams the readings of a range in their order: of the named
// channels, or of all where none is named. It ends after the first error.
func (r *Reader) Readings(ctx context.Context, within Range, channels ...string) iter.Seq2[Reading, error] {
	return func(yield func(Reading, error) bool) {
		after := readingKey{Moment: within.From, channel: -1}
		for {
			page, err := rows(ctx, r, scanReading, selectReadings(len(channels)), readingArgs(after, within.Until, channels)...)
			if err != nil {
				yield(Reading{}, err)
				return
			}
			for _, kept := range page {
				if !yield(kept.reading, nil) {
					return
				}
			}
			if len(page) < pageRows {
				return
			}
			after = page[len(page)-1].key
		}
	}
}

// readingKey is the place of a reading in the order of the record.
type readingKey struct {
	Moment
	channel, twin int64
}

type keptReading struct {
	key     readingKey
	reading Reading
}

func selectReadings(channels int) string {
	text := `SELECT run, at, channel, twin, name, quantity, value, raw, quality, reason, test
		FROM readings CROSS JOIN channels USING (channel)
		WHERE (run, at, channel, twin) > (?,?,?,?) AND (run, at) < (?,?)`
	if channels > 0 {
		text += ` AND name IN (?` + strings.Repeat(`,?`, channels-1) + `)`
	}
	return text + ` ORDER BY run, at, channel, twin LIMIT ?`
}

func readingArgs(after readingKey, until Moment, channels []string) []any {
	args := []any{after.Run, after.At, after.channel, after.twin, until.Run, until.At}
	for _, name := range channels {
		args = append(args, name)
	}
	return append(args, pageRows)
}

func scanReading(row *sqlite3.Stmt) keptReading {
	kept := keptReading{key: readingKey{columnMoment(row, 0), row.ColumnInt64(2), row.ColumnInt64(3)}}
	kept.reading = Reading{
		Run:  kept.key.Run,
		Test: row.ColumnBool(10),
		Reading: sensors.Reading{
			Channel: row.ColumnText(4),
			At:      kept.key.At,
			Raw:     columnNumber(row, 7),
			Quality: sensors.Quality(row.ColumnInt(8)),
			Reason:  sensors.Reason(row.ColumnInt(9)),
		},
	}
	if row.ColumnType(6) != sqlite3.NULL {
		// What is not a finite number of a known quantity stays no value.
		if value, err := sensors.NewValue(sensors.Quantity(row.ColumnInt(5)), row.ColumnFloat(6)); err == nil {
			kept.reading.Value = value
		}
	}
	return kept
}

// columnNumber gives a column's number, NaN for NULL.
func columnNumber(row *sqlite3.Stmt, column int) float64 {
	if row.ColumnType(column) == sqlite3.NULL {
		return math.NaN()
	}
	return row.ColumnFloat(column)
}

// Events streams the events of a range in their order. It ends after the first error.
func (r *Reader) Events(ctx context.Context, within Range) iter.Seq2[Event, error] {
	return r.events(ctx, 0, within)
}

// EventsAfter streams every event numbered above a sequence number, for a
// client that returns. It ends after the first error.
func (r *Reader) EventsAfter(ctx context.Context, sequence int64) iter.Seq2[Event, error] {
	return r.events(ctx, sequence, After(Moment{}))
}

func (r *Reader) events(ctx context.Context, after int64, within Range) iter.Seq2[Event, error] {
	return func(yield func(Event, error) bool) {
		for {
			args := append([]any{after}, within.args()...)
			page, err := rows(ctx, r, scanEvent, `SELECT sequence, run, at, alarm, from_state, to_state, cause, priority,
				class, subject, channel, number, unit, value, sentence, by, why FROM events
				WHERE sequence > ? AND (run, at) >= (?,?) AND (run, at) < (?,?)
				ORDER BY sequence LIMIT ?`, append(args, pageRows)...)
			if err != nil {
				yield(Event{}, err)
				return
			}
			for _, event := range page {
				if !yield(event, nil) {
					return
				}
			}
			if len(page) < pageRows {
				return
			}
			after = page[len(page)-1].Sequence
		}
	}
}

func scanEvent(row *sqlite3.Stmt) Event {
	return Event{
		Sequence: row.ColumnInt64(0), Moment: columnMoment(row, 1),
		Alarm: row.ColumnText(3), From: row.ColumnText(4), To: row.ColumnText(5), Cause: row.ColumnText(6),
		Priority: row.ColumnInt(7), Class: row.ColumnInt(8),
		Subject: row.ColumnText(9), Channel: row.ColumnText(10),
		Number: columnNumber(row, 11), Unit: row.ColumnText(12), Value: row.ColumnText(13),
		Sentence: row.ColumnText(14), By: row.ColumnText(15), Why: row.ColumnText(16),
	}
}

// After gives the range from a moment until the end of the record.
func After(from Moment) Range {
	return Range{From: from, Until: Moment{math.MaxInt64, time.Duration(math.MaxInt64)}}
}
