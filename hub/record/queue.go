package record

import (
	"errors"
	"fmt"
	"time"
)

// item is one thing in the queue: readings, or entries that belong together.
type item struct {
	readings        []Reading
	entries         []Entry
	written, synced func(error)
}

// ErrFull says that the room reserved for events is used up too: the disk has
// been failing for very long.
var ErrFull = errors.New("record: the queue is full: the disk has been too slow or broken for long; mend or free it")

// ErrClosed says that the record is closed or has no run yet.
var ErrClosed = errors.New("record: closed, or no run has begun")

// errRefused marks an entry that can't be kept however often it is tried.
var errRefused = errors.New("record: refused")

func refused(format string, args ...any) error {
	return fmt.Errorf("%w: %s", errRefused, fmt.Sprintf(format, args...))
}

// AddReadings hands readings over to be kept and never waits. It copies them;
// their Run is set by the record. It returns false when the queue was full:
// then none of them is kept, and the record notes the gap and how many.
func (r *Record) AddReadings(readings []Reading) bool {
	if len(readings) == 0 {
		return true
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if !r.accepting {
		return false
	}
	if r.queuedReadings+len(readings) > r.options.QueueReadings {
		first, last := readings[0].At, readings[0].At
		for _, reading := range readings {
			first, last = min(first, reading.At), max(last, reading.At)
		}
		r.lose(Gap{From: first, Until: last, Kind: GapQueueFull, Readings: int64(len(readings))})
		return false
	}
	r.queuedReadings += len(readings)
	r.queue = append(r.queue, item{readings: append([]Reading(nil), readings...)})
	return true
}

// lose notes lost rows at their place in the queue. r.mu is held.
func (r *Record) lose(gap Gap) {
	r.health.ReadingsLost += gap.Readings
	r.health.EventsLost += gap.Events
	if last := len(r.queue) - 1; last >= r.inFlight {
		if entries := r.queue[last].entries; len(entries) == 1 {
			if open, ok := entries[0].(*Gap); ok {
				open.From, open.Until = min(open.From, gap.From), max(open.Until, gap.Until)
				open.Readings += gap.Readings
				open.Events += gap.Events
				return
			}
		}
	}
	r.queue = append(r.queue, item{entries: []Entry{&gap}})
	r.queuedEntries++
}

// Add hands over entries that belong together: all of them are kept or none.
// It never waits. They are committed at once, in order with everything handed
// over before. written is called after the commit, when the end of the process
// can't undo it; synced after that, when a power cut can't either. Both are
// called exactly once, from the record's own goroutine, with nil or with why
// not, and may be nil; they must not wait. While the disk fails the entries are
// kept and tried again, so the calls may come late. When Add itself returns an
// error (ErrFull, ErrClosed) nothing is kept and neither is called.
//
// The entries belong to the record from here on.
func (r *Record) Add(written, synced func(error), entries ...Entry) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.add(item{entries: entries, written: written, synced: synced})
}

func (r *Record) add(it item) error {
	if !r.accepting {
		return ErrClosed
	}
	if r.queuedEntries+len(it.entries) > r.options.QueueEntries {
		for _, entry := range it.entries {
			if event, ok := entry.(*Event); ok {
				r.lose(Gap{From: event.At, Until: event.At, Kind: GapQueueFull, Events: 1})
			}
		}
		return ErrFull
	}
	r.queuedEntries += len(it.entries)
	r.queue = append(r.queue, it)
	r.wake(r.urgent)
	return nil
}

// AddEvent is Add for one event.
func (r *Record) AddEvent(event Event, written, synced func(error)) error {
	return r.Add(written, synced, &event)
}

// StartSession opens a session and gives its number, which the record chooses.
func (r *Record) StartSession(s Session, written, synced func(error)) (id int64, err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	s.ID = r.lastSession + 1
	if err := r.add(item{entries: []Entry{&sessionStart{s}}, written: written, synced: synced}); err != nil {
		return 0, err
	}
	r.lastSession = s.ID
	return s.ID, nil
}

// AddMark keeps a mark and gives its number, which the record chooses.
func (r *Record) AddMark(m Mark, written, synced func(error)) (id int64, err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	m.ID = r.lastMark + 1
	if err := r.add(item{entries: []Entry{&m}, written: written, synced: synced}); err != nil {
		return 0, err
	}
	r.lastMark = m.ID
	return m.ID, nil
}

// Alive says that the hub still ran at this offset, though nothing may have
// been heard. It is written with the next readings' commit, so that the next
// run can tell how long the hub was dark.
func (r *Record) Alive(at time.Duration) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.alive = max(r.alive, at)
}

// SetHot says whether a bath is hot: readings are then committed each second,
// otherwise every five.
func (r *Record) SetHot(hot bool) {
	r.mu.Lock()
	changed := r.hot != hot
	r.hot = hot
	r.mu.Unlock()
	if changed {
		r.wake(r.pace)
	}
}

// wake tells the goroutine something, unless it has yet to hear the last.
func (r *Record) wake(signal chan struct{}) {
	select {
	case signal <- struct{}{}:
	default:
	}
}
