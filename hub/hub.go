package hub

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync/atomic"
	"time"

	"simmerline/hub/bench"
	"simmerline/hub/notify"
	"simmerline/hub/record"
	"simmerline/sensors"
	"simmerline/sensors/clock"
)

// Sounder is what the loop needs of hub/notify.
type Sounder interface {
	// Set says what is to be heard from now on. It never blocks.
	Set(notify.Level)
	State() notify.State
}

// Options are what a hub is made of.
type Options struct {
	Bench  *bench.Bench
	Clock  clock.Clock
	Record *record.Record // its run has not begun
	// RecordFails says why Record is not the one that was wanted; empty where it
	// is. It stands as an alarm for the whole run.
	RecordFails string
	Sounder     Sounder
	Log         *slog.Logger
	Software    string // this program's version, kept with the run
	// Earlier, where set, gives the hub a past; the demo's earlier minutes come
	// from there.
	Earlier *Earlier
}

// Hub is the running hub. Its methods may be called from any goroutine.
type Hub struct {
	options  Options
	batches  chan sensors.Batch
	requests chan request
	settled  chan settled
	latest   atomic.Pointer[Snapshot]
	born     time.Time    // what beat counts from
	beat     atomic.Int64 // nanoseconds until the loop's last turn, 0 before the first
	done     chan struct{}
	loop     *loop
}

// New makes a hub, begins a run of its record, and takes up the alarms and the
// session that the last run left behind. The loop begins with Run.
func New(ctx context.Context, o Options) (*Hub, error) {
	if o.Bench == nil || o.Clock == nil || o.Record == nil || o.Sounder == nil || o.Log == nil {
		return nil, errors.New("hub: bench, clock, record, sounder and log are needed")
	}
	h := &Hub{
		options: o, batches: make(chan sensors.Batch, 256), requests: make(chan request),
		settled: make(chan settled, 256), done: make(chan struct{}), born: time.Now(),
	}
	l, err := newLoop(h)
	if err != nil {
		return nil, err
	}
	h.loop = l
	if err := l.takeUp(ctx); err != nil {
		close(h.done) // nothing of the record waits for a loop that never runs
		return nil, fmt.Errorf("hub: %w", err)
	}
	return h, nil
}

// Run is the loop. It returns when ctx ends.
func (h *Hub) Run(ctx context.Context) {
	defer close(h.done)
	h.loop.run(ctx)
}

// Deliver takes what a port has to say. It waits only while the loop is busy
// with earlier batches, which is never long, and gives up when the hub stops.
func (h *Hub) Deliver(b sensors.Batch) {
	select {
	case h.batches <- b:
	case <-h.done:
	}
}

// Snapshot is the newest published state.
func (h *Hub) Snapshot() *Snapshot { return h.latest.Load() }

// stuckAfter is how long the loop may take for one turn before the hub no
// longer counts as alive.
const stuckAfter = 3 * time.Second

// Alive says whether the loop is turning, which is more than that the process
// exists.
func (h *Hub) Alive() bool {
	select {
	case <-h.done:
		return false
	default:
		turned := time.Duration(h.beat.Load())
		return turned > 0 && time.Since(h.born)-turned < stuckAfter
	}
}

// Record gives the record, for reading.
func (h *Hub) Record() *record.Record { return h.options.Record }
