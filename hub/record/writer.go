package record

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/ncruces/go-sqlite3"
)

// writer is the one connection that writes, owned by the record's goroutine
// once a run has begun.
type writer struct {
	*database
	run      int64
	sequence int64 // number of the newest event committed
	channels map[string]int64
	newest   map[int64]time.Duration // offset of the newest reading of each channel
	twins    int64
	logPages int   // pages in SQLite's log
	unsynced bool  // a sync has failed, and what it covered may not be on the disk
	fullGap  int64 // the gap row that grows while the storage is full; 0 when none
}

// keep is the record's goroutine.
func (r *Record) keep() {
	defer close(r.done)
	timer := time.NewTimer(r.interval())
	defer timer.Stop()
	for {
		select {
		case <-r.pace:
			timer.Reset(r.interval())
			continue
		case <-r.urgent:
		case <-timer.C:
		case <-r.closing:
			r.flush()
			r.finish()
			return
		}
		r.flush()
		timer.Reset(r.interval())
	}
}

// interval is how long readings wait for their commit.
func (r *Record) interval() time.Duration {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.hot || r.health.Failing {
		return time.Second
	}
	return 5 * time.Second
}

// flush commits all that is queued, then syncs what asked for it, then does
// SQLite's housekeeping, and says how it went.
func (r *Record) flush() {
	r.begins()
	committed, err := r.commitQueue()
	for _, it := range committed {
		call(it.written, nil)
	}
	if slices.ContainsFunc(committed, func(it item) bool { return len(it.entries) > 0 }) {
		synced := r.w.sync()
		for _, it := range committed {
			call(it.synced, synced)
		}
		err = errors.Join(err, synced)
	}
	if r.w.unsynced {
		err = errors.Join(err, r.w.mendSync())
	} else if r.w.logPages >= r.options.checkpointPages {
		// Apart from commits, so that no event waits for it. Passive: no reader
		// is waited for.
		_, _, e := r.w.WALCheckpoint("main", sqlite3.CHECKPOINT_PASSIVE)
		if e == nil {
			r.w.logPages = 0
		}
		err = errors.Join(err, e)
	}
	if damaged(err) {
		r.markDamaged(err)
	}
	r.report(err)
}

// commitQueue commits the whole queue in one transaction. What can't be kept
// however often it is tried is taken out and told so. While the disk fails the
// queue stays as it is.
func (r *Record) commitQueue() ([]item, error) {
	low := false
	if free, err := r.options.free(r.dir); err == nil {
		low = free < r.options.Reserve
	}
	for {
		r.mu.Lock()
		batch := r.queue[:len(r.queue):len(r.queue)]
		r.inFlight = len(batch)
		alive := r.alive
		r.mu.Unlock()
		lost, bad, err := r.w.commit(batch, alive, low)
		switch {
		case bad >= 0:
			refusal := batch[bad]
			err = fmt.Errorf("record: %w", err)
			r.take(bad, 1, func(h *Health) { h.Refused++; h.Refusal = err.Error() })
			call(refusal.written, err)
			call(refusal.synced, err)
		case errors.Is(err, sqlite3.FULL) && !low:
			low = true // once more, without the readings
		case err != nil:
			r.take(0, 0, func(h *Health) {})
			return nil, err
		default:
			batch = slices.Clone(batch)
			r.take(0, len(batch), func(h *Health) { h.ReadingsLost += lost; h.StorageFull = low })
			return batch, nil
		}
	}
}

// take removes items of the queue that are done with.
func (r *Record) take(from, count int, note func(*Health)) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, it := range r.queue[from : from+count] {
		r.queuedReadings -= len(it.readings)
		r.queuedEntries -= len(it.entries)
	}
	// A new slice, so that a queue that was long once gives its memory back.
	r.queue = slices.Concat(r.queue[:from], r.queue[from+count:])
	r.inFlight = 0
	note(&r.health)
}

// commit writes a batch in one transaction. With low storage the readings are
// not kept but counted: lost says how many. bad is the place of an item that
// can't ever be kept, or -1.
func (w *writer) commit(batch []item, alive time.Duration, low bool) (lost int64, bad int, err error) {
	bad = -1
	spared := Gap{Run: w.run, Kind: GapStorageFull}
	sequence := w.sequence
	last := alive
	fullGap := w.fullGap
	err = w.inTransaction(func() error {
		for i, it := range batch {
			for j := range it.readings {
				reading := &it.readings[j]
				last = max(last, reading.At)
				if low {
					spared.count(reading.At)
				} else if err := w.insertReading(reading); err != nil {
					bad = i
					return err
				}
			}
			for _, entry := range it.entries {
				if err := entry.insert(w); err != nil {
					bad = i
					return err
				}
				if m := entry.moment(); m.Run == w.run {
					last = max(last, m.At)
				}
				if event, ok := entry.(*Event); ok {
					sequence = max(sequence, event.Sequence)
				}
			}
		}
		if fullGap, err = w.keepSpared(spared); err != nil {
			return err
		}
		return w.exec(`UPDATE runs SET last_at = max(last_at, ?) WHERE run = ?`, last, w.run)
	})
	if err != nil {
		clear(w.channels) // some may have been new, and are undone
		if !hopeless(err) {
			bad = -1
		}
		return 0, bad, err
	}
	w.sequence, w.fullGap = sequence, fullGap
	return spared.Readings, -1, nil
}

// hopeless says whether an error lies in what was to be written, not in the disk.
func hopeless(err error) bool {
	for _, code := range []error{errRefused, sqlite3.CONSTRAINT, sqlite3.MISMATCH, sqlite3.TOOBIG} {
		if errors.Is(err, code) {
			return true
		}
	}
	return false
}

// count adds a reading to a gap.
func (g *Gap) count(at time.Duration) {
	if g.Readings == 0 {
		g.From, g.Until = at, at
	}
	g.From, g.Until = min(g.From, at), max(g.Until, at)
	g.Readings++
}

// keepSpared notes the readings that full storage has cost, in one row for as
// long as that lasts, and gives the row's number.
func (w *writer) keepSpared(spared Gap) (row int64, err error) {
	switch {
	case spared.Readings == 0:
		return 0, nil
	case w.fullGap == 0:
		if err := spared.insert(w); err != nil {
			return 0, err
		}
		return w.LastInsertRowID(), nil
	default:
		return w.fullGap, w.exec(`UPDATE gaps SET from_at = min(from_at, ?), until_at = max(until_at, ?), readings = readings + ?
			WHERE gap = ?`, spared.From, spared.Until, spared.Readings, w.fullGap)
	}
}

// sync makes all that is committed outlast a power cut. The commit before it
// has left its pages in the log unsynced (synchronous = NORMAL); this one more
// commit is made with synchronous = FULL, which syncs the log and so all of it
// up to here. It also keeps how far the events were synced, so that a later
// check can tell when one is missing.
func (w *writer) sync() error {
	if w.unsynced {
		if err := w.mendSync(); err != nil {
			return err
		}
	}
	err := w.Exec("PRAGMA synchronous = FULL")
	if err == nil {
		// times always grows: SQLite writes no page whose content stays the same.
		err = w.inTransaction(func() error {
			return w.exec("UPDATE synced SET sequence = ?, times = times + 1", w.sequence)
		})
	}
	w.unsynced = err != nil
	return errors.Join(err, w.Exec("PRAGMA synchronous = NORMAL"))
}

// mendSync follows a failed sync. The system may have forgotten what it could
// not write, so another sync of the same file would prove nothing: the log's
// content is copied into the database file, and that is synced.
func (w *writer) mendSync() error {
	if err := w.checkpointAll(); err != nil {
		return err
	}
	w.unsynced = false
	return nil
}

// checkpointAll empties the log into the database file; a reader may prevent it.
func (w *writer) checkpointAll() error {
	if err := w.BusyTimeout(250 * time.Millisecond); err != nil {
		return err
	}
	_, _, err := w.WALCheckpoint("main", sqlite3.CHECKPOINT_TRUNCATE)
	if err == nil {
		w.logPages = 0
	}
	return errors.Join(err, w.BusyTimeout(busyPatience))
}

// markDamaged leaves a note for the next Open to set the file aside.
func (r *Record) markDamaged(err error) {
	// When even this fails, the report of the damage itself still stands.
	_ = os.WriteFile(filepath.Join(r.dir, damageName), []byte(err.Error()+"\n"), 0o600)
}

// Close writes what is queued, ends the goroutine and closes the files. It
// waits for that until ctx is done. What could not be written is told so.
func (r *Record) Close(ctx context.Context) error {
	var err error
	r.closeOnce.Do(func() {
		r.mu.Lock()
		r.accepting = false
		r.mu.Unlock()
		close(r.closing)
		if !r.begun {
			r.finish()
			close(r.done)
		}
	})
	select {
	case <-r.done:
	case <-ctx.Done():
		err = fmt.Errorf("record: the disk did not finish in time: %w", ctx.Err())
	}
	return err
}

// finish gives back what can't be written any more and closes all files.
func (r *Record) finish() {
	r.mu.Lock()
	rest := r.queue
	r.queue = nil
	failure := r.health.Err
	r.mu.Unlock()
	for _, it := range rest {
		err := fmt.Errorf("record: closed before it could be written: %w", errors.Join(failure, ErrClosed))
		call(it.written, err)
		call(it.synced, err)
	}
	err := errors.Join(r.Reader.Close(), r.w.checkpointAll(), r.w.close(), r.lock.close())
	if err != nil {
		r.report(err)
	}
}

func call(f func(error), err error) {
	if f != nil {
		f(err)
	}
}
