package record

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"time"

	"github.com/ncruces/go-sqlite3"
)

// readers is how many connections read at once; each costs some memory.
const readers = 2

// Reader reads a record, also while a hub writes to it. It may be used by
// several goroutines. What it returns was committed; each query sees one
// moment of the record.
type Reader struct {
	path, layer string
	slots       chan struct{} // one token for each connection that may be in use

	mu     sync.Mutex // guards both below
	idle   []*database
	closed bool
}

func newReader(path, layer string) *Reader {
	return &Reader{path: path, layer: layer, slots: make(chan struct{}, readers)}
}

// OpenReader opens the record in a folder for reading only. It fails where
// there is none, where it can't be read and where it is of another version.
func OpenReader(dir string) (*Reader, error) {
	path := filepath.Join(dir, fileName)
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("record: no record in %s: %w", dir, err)
	}
	r := newReader(path, "")
	err := r.with(context.Background(), func(db *database) error {
		version, err := db.version(context.Background())
		if err == nil && version != len(steps()) {
			err = fmt.Errorf("schema version %d, this program reads %d: start the hub of this version once to bring it forward", version, len(steps()))
			if version > len(steps()) {
				err = ErrNewer
			}
		}
		return err
	})
	if err != nil {
		return nil, errors.Join(fmt.Errorf("record: can't read %s: %w", path, err), r.Close())
	}
	return r, nil
}

// Close closes the connections; those in use close when they are done.
func (r *Reader) Close() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.closed = true
	var err error
	for _, db := range r.idle {
		err = errors.Join(err, db.close())
	}
	r.idle = nil
	return err
}

// with lends a connection.
func (r *Reader) with(ctx context.Context, do func(*database) error) error {
	select {
	case r.slots <- struct{}{}:
		defer func() { <-r.slots }()
	case <-ctx.Done():
		return ctx.Err()
	}
	db, err := r.take()
	if err != nil {
		return err
	}
	err = do(db)
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return errors.Join(err, db.close())
	}
	r.idle = append(r.idle, db)
	return err
}

func (r *Reader) take() (*database, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return nil, ErrClosed
	}
	if last := len(r.idle) - 1; last >= 0 {
		db := r.idle[last]
		r.idle = r.idle[:last]
		return db, nil
	}
	return openDatabase(r.path, r.layer, sqlite3.OPEN_READONLY)
}

// rows runs a query whose rows are all kept in memory.
func rows[T any](ctx context.Context, r *Reader, scan func(*sqlite3.Stmt) T, text string, args ...any) (all []T, err error) {
	err = r.with(ctx, func(db *database) error {
		return db.query(ctx, text, args, func(row *sqlite3.Stmt) bool {
			all = append(all, scan(row))
			return true
		})
	})
	if err != nil {
		return nil, fmt.Errorf("record: can't read %s: %w", r.path, err)
	}
	return all, nil
}

func columnMoment(row *sqlite3.Stmt, first int) Moment {
	return Moment{row.ColumnInt64(first), time.Duration(row.ColumnInt64(first + 1))}
}

func scanRun(row *sqlite3.Stmt) Run {
	return Run{
		ID: row.ColumnInt64(0), Wall: time.Unix(0, row.ColumnInt64(1)).UTC(), Bench: row.ColumnInt64(2),
		Software: row.ColumnText(3), Last: time.Duration(row.ColumnInt64(4)), Clean: row.ColumnBool(5),
		First: time.Duration(row.ColumnInt64(6)),
	}
}

// Runs lists every run, the oldest first.
func (r *Reader) Runs(ctx context.Context) ([]Run, error) {
	return rows(ctx, r, scanRun, `SELECT run, wall, bench, software, last_at, ended_at IS NOT NULL,
		(SELECT coalesce(min(at), 0) FROM (
			SELECT min(at) AS at FROM events WHERE events.run = runs.run
			UNION ALL SELECT min(at) FROM readings WHERE readings.run = runs.run))
		FROM runs ORDER BY run`)
}

// NewestOf gives the number of the newest event of a run or of any before it, 0
// where there is none.
func (r *Reader) NewestOf(ctx context.Context, run int64) (int64, error) {
	newest, err := rows(ctx, r, func(row *sqlite3.Stmt) int64 { return row.ColumnInt64(0) },
		`SELECT coalesce(max(sequence), 0) FROM events WHERE run <= ?`, run)
	if err != nil {
		return 0, err
	}
	return newest[0], nil
}

// BenchText gives the bench file that a run used.
func (r *Reader) BenchText(ctx context.Context, run int64) (string, error) {
	texts, err := rows(ctx, r, func(row *sqlite3.Stmt) string { return row.ColumnText(0) },
		`SELECT text FROM benches JOIN runs USING (bench) WHERE run = ?`, run)
	if err == nil && len(texts) == 0 {
		err = fmt.Errorf("record: run %d: %w", run, ErrNotFound)
	}
	if err != nil {
		return "", err
	}
	return texts[0], nil
}

func scanSession(row *sqlite3.Stmt) Session {
	s := Session{
		ID: row.ColumnInt64(0), Name: row.ColumnText(1), Start: columnMoment(row, 2),
		StartedHow: How(row.ColumnText(4)), StartedBy: row.ColumnText(5), Kept: row.ColumnBool(10),
	}
	if row.ColumnType(6) != sqlite3.NULL {
		s.End, s.EndedHow, s.EndedBy = columnMoment(row, 6), How(row.ColumnText(8)), row.ColumnText(9)
	}
	return s
}

const selectSessions = `SELECT session, name, start_run, start_at, started_how, started_by,
	end_run, end_at, ended_how, ended_by, kept FROM sessions `

// Sessions lists every session, the newest first.
func (r *Reader) Sessions(ctx context.Context) ([]Session, error) {
	return rows(ctx, r, scanSession, selectSessions+`ORDER BY session DESC`)
}

// ErrNotFound says that the record holds no such thing.
var ErrNotFound = errors.New("not in the record")

// FindSession finds a session by "latest", by its number, or by its name; of
// several with one name it gives the newest. Where there is none the error is
// ErrNotFound.
func (r *Reader) FindSession(ctx context.Context, word string) (Session, error) {
	found, err := r.findSession(ctx, word)
	if err == nil && len(found) == 0 {
		err = fmt.Errorf("record: session %q: %w: 'session list' shows those there are", word, ErrNotFound)
	}
	if err != nil {
		return Session{}, err
	}
	return found[0], nil
}

func (r *Reader) findSession(ctx context.Context, word string) ([]Session, error) {
	if word == "latest" {
		return rows(ctx, r, scanSession, selectSessions+`ORDER BY session DESC LIMIT 1`)
	}
	if id, err := strconv.ParseInt(word, 10, 64); err == nil {
		if found, err := rows(ctx, r, scanSession, selectSessions+`WHERE session = ?`, id); err != nil || len(found) > 0 {
			return found, err
		}
	}
	return rows(ctx, r, scanSession, selectSessions+`WHERE name = ? ORDER BY session DESC LIMIT 1`, word)
}

// Marks lists the marks of a range in their order.
func (r *Reader) Marks(ctx context.Context, within Range) ([]Mark, error) {
	return rows(ctx, r, func(row *sqlite3.Stmt) Mark {
		return Mark{ID: row.ColumnInt64(0), Session: row.ColumnInt64(1), Moment: columnMoment(row, 2), Text: row.ColumnText(4), By: row.ColumnText(5)}
	}, `SELECT mark, session, run, at, text, by FROM marks
		WHERE (run, at) >= (?,?) AND (run, at) < (?,?) ORDER BY run, at, mark`, within.args()...)
}

// Gaps lists the gaps that touch a range in their order.
func (r *Reader) Gaps(ctx context.Context, within Range) ([]Gap, error) {
	return rows(ctx, r, func(row *sqlite3.Stmt) Gap {
		return Gap{
			Run: row.ColumnInt64(0), From: time.Duration(row.ColumnInt64(1)), Until: time.Duration(row.ColumnInt64(2)),
			Kind: GapKind(row.ColumnText(3)), Readings: row.ColumnInt64(4), Events: row.ColumnInt64(5),
		}
	}, `SELECT run, from_at, until_at, kind, readings, events FROM gaps
		WHERE (run, until_at) >= (?,?) AND (run, from_at) < (?,?) ORDER BY run, from_at, gap`, within.args()...)
}

// PortNotes lists what the ports said of themselves in a range.
func (r *Reader) PortNotes(ctx context.Context, within Range) ([]PortNote, error) {
	return rows(ctx, r, func(row *sqlite3.Stmt) PortNote {
		return PortNote{Moment: columnMoment(row, 0), Port: row.ColumnText(2), State: row.ColumnText(3), Device: row.ColumnText(4), Detail: row.ColumnText(5)}
	}, `SELECT run, at, port, state, device, detail FROM port_notes
		WHERE (run, at) >= (?,?) AND (run, at) < (?,?) ORDER BY run, at, note`, within.args()...)
}

func (g Range) args() []any { return []any{g.From.Run, g.From.At, g.Until.Run, g.Until.At} }
