package hub

import (
	"context"
	"errors"
	"sync"
	"time"
)

const (
	// eventRoom is how many announcements may wait for one client.
	eventRoom = 1024
	// callsWithin is how long a station may leave waiting what is put before it,
	// with a heartbeat each second, and still count as somebody who can call.
	callsWithin = 5 * time.Second
)

// Why a watch ends.
var (
	// ErrTooSlow means that the client did not keep up with announcements. It
	// may come back with the last number it has.
	ErrTooSlow = errors.New("hub: the client did not keep up; come back with the last sequence number")
	// ErrStopping means that the hub is being stopped.
	ErrStopping = errors.New("hub: the hub is stopping")
	// ErrPowerCut as the cause of the end of Run's context lets the hub end as if
	// its power had gone: the record is told of no end. A demo's story needs it.
	ErrPowerCut = errors.New("hub: the power has gone")
)

// WatchOptions say how a client wants to watch.
type WatchOptions struct {
	// Resume asks for every announcement after number After, which the client
	// has of run Run; Run is 0 where it does not know.
	Resume bool
	Run    uint64
	After  uint64
	// Station: the client says that it will call somebody when an alarm sounds.
	Station bool
}

// Update is what a watcher is given at once. State is the newest state, nil
// when it has not changed; Heartbeat is set about once a second; Announcements
// are those not given before, in order, none missing.
type Update struct {
	State         *Snapshot
	Announcements []Announcement
	Heartbeat     bool
	// Incomplete is set in the first update of a client that came back, when
	// something that it may have missed can't be given any more.
	Incomplete bool
}

// Watcher is one client's place at the hub: a slot for the newest state, and a
// queue of announcements. The loop fills both and never waits for anybody.
type Watcher struct {
	station bool
	leave   func(*Watcher)
	ready   chan struct{} // holds one token while there is something to give

	mu      sync.Mutex // guards all below
	first   *Update    // what it was given when it came; not counted against eventRoom
	pending Update
	since   time.Time // when the oldest of what waits was put there; zero when nothing waits
	ended   error
}

func newWatcher(station bool, leave func(*Watcher)) *Watcher {
	return &Watcher{station: station, leave: leave, ready: make(chan struct{}, 1)}
}

// Next waits for something new and returns all of it at once. It returns
// ErrTooSlow or ErrStopping when the watch is over, after everything that was
// still waiting has been given; or the context's error.
func (w *Watcher) Next(ctx context.Context) (Update, error) {
	for {
		w.mu.Lock()
		update, ended := w.pending, w.ended
		if w.first != nil {
			update, w.first = *w.first, nil
		} else {
			w.pending = Update{}
		}
		w.since = time.Time{}
		w.mu.Unlock()
		switch {
		case update.State != nil, len(update.Announcements) > 0, update.Heartbeat:
			return update, nil
		case ended != nil:
			return Update{}, ended
		}
		select {
		case <-w.ready:
		case <-ctx.Done():
			return Update{}, ctx.Err()
		}
	}
}

// Close gives up the place. It may be called more than once.
func (w *Watcher) Close() { w.leave(w) }

// begin puts the first update before the client, before anything is offered.
func (w *Watcher) begin(first Update) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.first, w.since = &first, time.Now()
	w.wake()
}

// precede puts what was read from the record before the first update, which
// nobody may have taken yet.
func (w *Watcher) precede(missed []Announcement, whole bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if away := w.first.State.View.Advice.KeepAway; away {
		missed = keptBack(missed)
	}
	w.first.Announcements = append(missed, w.first.Announcements...)
	w.first.Incomplete = w.first.Incomplete || !whole
}

// calls says whether the client is a station that takes what it is given.
func (w *Watcher) calls(now time.Time) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.station && w.ended == nil && (w.since.IsZero() || now.Sub(w.since) < callsWithin)
}

// offer puts something before the client. Only the loop calls it.
func (w *Watcher) offer(update Update) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.ended != nil {
		return
	}
	if update.State != nil {
		w.pending.State = update.State
	}
	w.pending.Heartbeat = w.pending.Heartbeat || update.Heartbeat
	w.pending.Announcements = append(w.pending.Announcements, update.Announcements...)
	if w.since.IsZero() {
		w.since = time.Now()
	}
	if len(w.pending.Announcements) > eventRoom {
		w.pending, w.ended = Update{}, ErrTooSlow
	}
	w.wake()
}

// end closes the watch for the given reason. Only the loop calls it.
func (w *Watcher) end(reason error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.ended == nil {
		w.ended = reason
	}
	w.wake()
}

func (w *Watcher) wake() {
	select {
	case w.ready <- struct{}{}:
	default:
	}
}
