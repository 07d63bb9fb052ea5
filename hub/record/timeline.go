package record

import (
	"cmp"
	"context"
	"slices"
	"time"

	"github.com/ncruces/go-sqlite3"
)

// Timeline turns moments of the record into wall time, for people. It is
// plain data: it does not change when the record grows.
type Timeline struct {
	runs  []Run                 // by number
	notes map[int64][]ClockNote // of each run, by offset
}

// NewTimeline makes a timeline of runs and the clock notes in them.
func NewTimeline(runs []Run, notes []ClockNote) Timeline {
	t := Timeline{runs: slices.Clone(runs), notes: map[int64][]ClockNote{}}
	slices.SortFunc(t.runs, func(a, b Run) int { return cmp.Compare(a.ID, b.ID) })
	for _, note := range notes {
		t.notes[note.Run] = append(t.notes[note.Run], note)
	}
	for _, of := range t.notes {
		slices.SortStableFunc(of, func(a, b ClockNote) int { return cmp.Compare(a.At, b.At) })
	}
	return t
}

// Timeline reads the timeline of the whole record as it stands now.
func (r *Reader) Timeline(ctx context.Context) (Timeline, error) {
	runs, err := r.Runs(ctx)
	if err != nil {
		return Timeline{}, err
	}
	notes, err := rows(ctx, r, func(row *sqlite3.Stmt) ClockNote {
		return ClockNote{
			Moment: columnMoment(row, 0), Kind: ClockKind(row.ColumnText(2)),
			Wall: time.Unix(0, row.ColumnInt64(3)).UTC(), Detail: row.ColumnText(4),
		}
	}, `SELECT run, at, kind, wall, detail FROM clock_notes ORDER BY note`)
	if err != nil {
		return Timeline{}, err
	}
	return NewTimeline(runs, notes), nil
}

func (t Timeline) run(id int64) (index int, ok bool) {
	return slices.BinarySearchFunc(t.runs, id, func(r Run, id int64) int { return cmp.Compare(r.ID, id) })
}

// Wall tells what the wall clock showed at a moment: it runs on from the start
// of the run, or from the last step or sleep noted before. ok is false for a
// run that the timeline does not know.
func (t Timeline) Wall(m Moment) (wall time.Time, ok bool) {
	index, ok := t.run(m.Run)
	if !ok {
		return time.Time{}, false
	}
	wall = t.runs[index].Wall.Add(m.At)
	for _, note := range t.notes[m.Run] {
		if note.At > m.At {
			break
		}
		wall = note.Wall.Add(m.At - note.At)
	}
	return wall, true
}

// Dark is a time in which the hub did not run, or slept. From is the last
// moment before it, Until the first after it; Length is by the wall clock, and
// 0 when that was set back meanwhile and so can't tell.
type Dark struct {
	From, Until Moment
	Length      time.Duration
	Slept       bool // the machine was suspended; else the hub was not running
}

// Dark lists the dark times that lie within a range.
func (t Timeline) Dark(within Range) []Dark {
	var all []Dark
	for i, run := range t.runs {
		if i > 0 {
			before := t.runs[i-1]
			all = append(all, t.dark(Moment{before.ID, before.Last}, run.begin()))
		}
		for _, note := range t.notes[run.ID] {
			if note.Kind == ClockSlept {
				all = append(all, t.slept(note))
			}
		}
	}
	return slices.DeleteFunc(all, func(d Dark) bool {
		return d.Until.Compare(within.From) <= 0 || d.From.Compare(within.Until) >= 0
	})
}

func (t Timeline) dark(from, until Moment) Dark {
	before, _ := t.Wall(from)
	after, _ := t.Wall(until)
	return Dark{From: from, Until: until, Length: max(0, after.Sub(before))}
}

// slept measures a sleep against what the wall clock would have shown without it.
func (t Timeline) slept(note ClockNote) Dark {
	index, _ := t.run(note.Run)
	expected := t.runs[index].Wall.Add(note.At)
	for _, earlier := range t.notes[note.Run] {
		if earlier == note {
			break
		}
		expected = earlier.Wall.Add(note.At - earlier.At)
	}
	return Dark{From: note.Moment, Until: note.Moment, Length: max(0, note.Wall.Sub(expected)), Slept: true}
}

// begin is the first moment of a run.
func (r Run) begin() Moment { return Moment{r.ID, r.First} }

// Back gives the moment that lay a length of time before another, dark times
// included. Where that is in a dark time it gives the first moment after it,
// and the first moment of all where it is before the record began.
func (t Timeline) Back(m Moment, by time.Duration) Moment {
	for {
		index, ok := t.run(m.Run)
		if !ok {
			return Moment{m.Run, max(0, m.At-by)}
		}
		begin := t.runs[index].begin()
		if by <= m.At-begin.At {
			return Moment{m.Run, m.At - by}
		}
		if index == 0 {
			return begin
		}
		by -= max(0, m.At-begin.At)
		before := t.runs[index-1]
		dark := t.dark(Moment{before.ID, before.Last}, begin)
		if by <= dark.Length {
			return begin
		}
		by -= dark.Length
		m = Moment{before.ID, before.Last}
	}
}

// Last gives the range of the last length of time before the newest moment.
func (t Timeline) Last(by time.Duration) Range {
	if len(t.runs) == 0 {
		return Range{}
	}
	newest := t.runs[len(t.runs)-1]
	until := Moment{newest.ID, newest.Last + 1}
	return Range{From: t.Back(until, by), Until: until}
}

// Watched is how long the hub ran within a range: its length without what was
// dark between runs.
func (t Timeline) Watched(within Range) time.Duration {
	var sum time.Duration
	for _, part := range t.Parts(within) {
		sum += part.Until.At - part.From.At
	}
	return sum
}

// Parts cuts a range into one piece for each run. A piece of a run that was
// followed by another ends at the last thing it wrote.
func (t Timeline) Parts(within Range) []Range {
	var parts []Range
	for i, run := range t.runs {
		from, until := run.begin(), Moment{run.ID, run.Last}
		if i == len(t.runs)-1 && within.Until.Run == run.ID {
			until.At = max(until.At, within.Until.At)
		}
		if from.Compare(within.From) < 0 {
			from = within.From
		}
		if until.Compare(within.Until) > 0 {
			until = within.Until
		}
		if from.Run == run.ID && until.Run == run.ID && from.At <= until.At {
			parts = append(parts, Range{from, until})
		}
	}
	return parts
}
