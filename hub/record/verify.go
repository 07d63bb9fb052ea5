package record

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"

	"github.com/ncruces/go-sqlite3"
)

// Report is what Verify found.
type Report struct {
	Path     string  `json:"path"`
	Runs     int64   `json:"runs"`
	Readings int64   `json:"readings"`
	Events   int64   `json:"events"`
	Sessions int64   `json:"sessions"`
	Faults   []Fault `json:"faults"`
	// More counts the faults beyond the first hundred of each check.
	More int64 `json:"more_faults"`
}

// Fault is one thing wrong in a record, and where.
type Fault struct {
	Where string `json:"where"`
	What  string `json:"what"`
}

// Well says whether nothing is wrong.
func (r Report) Well() bool { return len(r.Faults) == 0 }

// Text writes the report for people.
func (r Report) Text(w io.Writer) error {
	text := fmt.Sprintf("%s: %d runs, %d readings, %d events, %d sessions\n", r.Path, r.Runs, r.Readings, r.Events, r.Sessions)
	for _, fault := range r.Faults {
		text += fmt.Sprintf("%s: %s\n", fault.Where, fault.What)
	}
	switch {
	case r.More > 0:
		text += fmt.Sprintf("and %d more\n", r.More)
	case r.Well():
		text += "no fault found\n"
	}
	_, err := io.WriteString(w, text)
	return err
}

// faultsShown is how many faults of one check are listed.
const faultsShown = 100

// check is a query whose every row is a fault: where, then what.
type check struct{ query string }

// checks are the promises of the schema that its own constraints can't keep.
func checks() []check {
	return []check{
		{`SELECT 'table ' || "table" || ', row ' || coalesce(rowid, '?'), 'points to a row of ' || parent || ' that is not there'
			FROM pragma_foreign_key_check`},
		{`SELECT 'run ' || run, 'its number is not one more than that of the run before'
			FROM (SELECT run, lag(run, 1, 0) OVER (ORDER BY run) AS before FROM runs) WHERE run <> before + 1`},
		{`SELECT 'event ' || sequence, printf('%d events before it are missing and no gap tells of them', sequence - before - 1)
			FROM (SELECT sequence, lag(sequence, 1, 0) OVER (ORDER BY sequence) AS before FROM events)
			WHERE sequence - before - 1 > (SELECT coalesce(sum(events), 0) FROM gaps)`},
		{`SELECT 'event ' || sequence, printf('it lies before event %d in time', before)
			FROM (SELECT sequence, run, at, lag(sequence) OVER o AS before, lag(run) OVER o AS before_run, lag(at) OVER o AS before_at
				FROM events WINDOW o AS (ORDER BY sequence))
			WHERE (run, at) < (before_run, before_at)`},
		{`SELECT 'event ' || sequence, 'this and what followed it was synced to the disk and is missing'
			FROM synced WHERE sequence > (SELECT coalesce(max(sequence), 0) FROM events)`},
		{`SELECT 'run ' || run || ', readings', printf('one at %d ns lies after the last thing written, %d ns', newest, last_at)
			FROM (SELECT run, last_at, (SELECT at FROM readings r WHERE r.run = runs.run ORDER BY at DESC LIMIT 1) AS newest FROM runs)
			WHERE newest > last_at`},
		{`SELECT 'event ' || sequence, printf('it lies after the last thing written in run %d', run)
			FROM events JOIN runs USING (run) WHERE at > last_at`},
		{`SELECT 'run ' || run, 'it ended before the last thing written in it' FROM runs WHERE ended_at < last_at`},
		{`SELECT 'reading of ' || name || ' in run ' || run || ' at ' || at || ' ns',
				iif(value IS NULL, 'it has no value though its quality is good or uncertain', 'it has a value though its quality is bad or unknown')
			FROM readings JOIN channels USING (channel) WHERE (value IS NULL) <> (quality IN (0, 3))`},
		{`SELECT 'session ' || session, 'it was open when a later one was started'
			FROM sessions s WHERE end_run IS NULL AND EXISTS (SELECT 1 FROM sessions l WHERE l.session > s.session)`},
		{`SELECT 'session ' || session, 'it ends after the last thing written in its run'
			FROM sessions JOIN runs ON run = end_run WHERE end_at > last_at`},
		{`SELECT 'mark ' || mark, printf('it lies outside session %d', session)
			FROM marks m JOIN sessions s USING (session)
			WHERE (m.run, m.at) < (s.start_run, s.start_at) OR (m.run, m.at) > (s.end_run, s.end_at)`},
	}
}

// Verify checks a whole record: the file's own structure, and that what it
// holds fits together. dir is the data folder; a hub may be writing to it. The
// error is for a record that could not be read at all; what is wrong inside is
// in the report.
func Verify(ctx context.Context, dir string) (Report, error) {
	report := Report{Path: filepath.Join(dir, fileName), Faults: []Fault{}}
	reader, err := OpenReader(dir)
	if damaged(err) {
		report.Faults = []Fault{{"the file as a whole", err.Error()}}
		return report, nil
	}
	if err != nil {
		return report, err
	}
	err = reader.with(ctx, func(db *database) error { return report.examine(ctx, db) })
	if err := errors.Join(err, reader.Close()); err != nil {
		return report, fmt.Errorf("record: can't verify %s: %w", report.Path, err)
	}
	return report, nil
}

// examine makes all checks within one view of the record.
func (r *Report) examine(ctx context.Context, db *database) (err error) {
	if err := db.Exec("BEGIN"); err != nil {
		return err
	}
	defer func() {
		if !db.GetAutocommit() {
			err = errors.Join(err, db.Exec("ROLLBACK"))
		}
	}()
	structure, err := r.structure(ctx, db)
	if err != nil || !structure {
		return err
	}
	for _, count := range []struct {
		table string
		into  *int64
	}{{"runs", &r.Runs}, {"readings", &r.Readings}, {"events", &r.Events}, {"sessions", &r.Sessions}} {
		if *count.into, err = db.number(ctx, "SELECT count(*) FROM "+count.table); err != nil {
			return err
		}
	}
	for _, check := range checks() {
		shown := 0
		if err := db.query(ctx, check.query, nil, func(row *sqlite3.Stmt) bool {
			if shown++; shown > faultsShown {
				r.More++
			} else {
				r.Faults = append(r.Faults, Fault{row.ColumnText(0), row.ColumnText(1)})
			}
			return true
		}); err != nil {
			return err
		}
	}
	return nil
}

// structure checks the file as SQLite sees it. Where that is broken, nothing
// inside is worth asking.
func (r *Report) structure(ctx context.Context, db *database) (whole bool, err error) {
	whole = true
	err = db.query(ctx, "PRAGMA integrity_check", nil, func(row *sqlite3.Stmt) bool {
		if word := row.ColumnText(0); word != "ok" {
			whole = false
			r.Faults = append(r.Faults, Fault{"the file's structure", word})
		}
		return true
	})
	if damaged(err) {
		r.Faults = append(r.Faults, Fault{"the file's structure", err.Error()})
		return false, nil
	}
	return whole, err
}
