package record

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"time"

	"github.com/ncruces/go-sqlite3"
)

// RunInfo says with what a run begins.
type RunInfo struct {
	Wall      time.Time // what the wall clock shows at offset 0
	BenchText string    // the bench file, as it was read
	Software  string    // the version of the hub
}

// Previous is what was kept before a run began.
type Previous struct {
	// Run is the run before; its ID is 0 when there was none.
	Run Run
	// LastWall is when something was last written in that run.
	LastWall time.Time
	// LastSequence is the number of the newest event, 0 when there is none. The
	// next event must be numbered one more. After a power cut it may be lower
	// than what was announced: events that were not yet synced are lost.
	LastSequence int64
	// OpenSession is the session that was not ended, nil when there is none.
	OpenSession *Session
	// State is the rules' newest kept state, and its moment; nil where none was.
	State *State
}

// Begin starts a new run: from here on things can be added. It tells what was
// before, so that the hub can say how long it was dark, carry on the alarms and
// end or continue the open session. It returns when all this is on the disk,
// and may be called once.
func (r *Record) Begin(info RunInfo) (Run, Previous, error) {
	if r.begun {
		return Run{}, Previous{}, errors.New("record: a run has begun already")
	}
	ctx := context.Background()
	previous, err := r.previous(ctx)
	if err != nil {
		return Run{}, Previous{}, fmt.Errorf("record: can't read what was before: %w", err)
	}
	run := Run{Wall: info.Wall, Software: info.Software}
	if err := r.w.begin(&run, info.BenchText); err != nil {
		return Run{}, Previous{}, fmt.Errorf("record: can't begin a run: %w", err)
	}
	if r.lastSession, err = r.w.number(ctx, "SELECT max(session) FROM sessions"); err != nil {
		return Run{}, Previous{}, fmt.Errorf("record: %w", err)
	}
	if r.lastMark, err = r.w.number(ctx, "SELECT max(mark) FROM marks"); err != nil {
		return Run{}, Previous{}, fmt.Errorf("record: %w", err)
	}
	r.w.run, r.w.sequence = run.ID, previous.LastSequence
	r.begun = true
	r.mu.Lock()
	r.accepting = true
	r.mu.Unlock()
	go r.keep()
	return run, previous, nil
}

// begin writes the run's row and its bench text, and syncs them.
func (w *writer) begin(run *Run, bench string) error {
	hash := sha256.Sum256([]byte(bench))
	if err := w.inTransaction(func() error {
		if err := w.exec(`INSERT INTO benches (sha256, text) VALUES (?,?) ON CONFLICT DO NOTHING`, hash[:], bench); err != nil {
			return err
		}
		var err error
		if run.Bench, err = w.number(context.Background(), `SELECT bench FROM benches WHERE sha256 = ?`, hash[:]); err != nil {
			return err
		}
		if err = w.exec(`INSERT INTO runs (wall, bench, software) VALUES (?,?,?)`, run.Wall.UnixNano(), run.Bench, run.Software); err != nil {
			return err
		}
		run.ID = w.LastInsertRowID()
		return nil
	}); err != nil {
		return err
	}
	return w.sync()
}

// EndRun marks that the run ends as it should; Close follows it.
func (r *Record) EndRun(at time.Duration) error {
	return r.Add(nil, nil, &runEnd{Moment{At: at}})
}

// previous reads what was kept before this run.
func (r *Record) previous(ctx context.Context) (p Previous, err error) {
	runs, err := r.Runs(ctx)
	if err != nil || len(runs) == 0 {
		return p, err
	}
	timeline, err := r.Timeline(ctx)
	if err != nil {
		return p, err
	}
	p.Run = runs[len(runs)-1]
	p.LastWall, _ = timeline.Wall(Moment{p.Run.ID, p.Run.Last})
	if p.LastSequence, err = r.w.number(ctx, "SELECT max(sequence) FROM events"); err != nil {
		return p, err
	}
	sessions, err := r.Sessions(ctx)
	if err != nil {
		return p, err
	}
	for i := range sessions {
		if sessions[i].Open() {
			p.OpenSession = &sessions[i]
			break
		}
	}
	err = r.w.query(ctx, "SELECT run, at, json FROM states ORDER BY run DESC LIMIT 1", nil, func(row *sqlite3.Stmt) bool {
		p.State = &State{Moment: columnMoment(row, 0), JSON: row.ColumnBlob(2, nil)}
		return false
	})
	return p, err
}
