package record

import (
	"errors"
	"fmt"
	"time"
)

// hangsAfter is how long the disk may take over one write, and all that belongs
// to it, before the record counts as failing. A checkpoint on a slow card takes
// a second or two.
const hangsAfter = 5 * time.Second

var errHangs = errors.New("record: the disk does not answer")

// Health is how the record fares.
type Health struct {
	// Failing says that what is handed over can't be written or synced now. It
	// is kept and tried again every second.
	Failing bool
	Err     error // why, nil when not failing
	// StorageFull says that readings are not kept, so that events can be.
	StorageFull bool
	// ReadingsLost and EventsLost count what was not kept since Open.
	ReadingsLost, EventsLost int64
	// Refused counts what can't be kept for what it is; Refusal says why of the
	// last. Anything but 0 is a mistake in the hub.
	Refused int64
	Refusal string
}

// String says in a sentence what is wrong and what to do; "" when nothing is.
func (h Health) String() string {
	switch {
	case h.Failing:
		return fmt.Sprintf("the record can't be kept: %v: check the disk", h.Err)
	case h.StorageFull:
		return "the disk is nearly full: readings are no longer kept, alarms still are: free some space"
	case h.Refused > 0:
		return "the record refused something: " + h.Refusal
	default:
		return ""
	}
}

// Health tells how the record fares now. A disk that hangs tells of no error;
// it is known by the time it takes.
func (r *Record) Health() Health {
	r.mu.Lock()
	defer r.mu.Unlock()
	h := r.health
	if !h.Failing && !r.writingSince.IsZero() && time.Since(r.writingSince) >= hangsAfter {
		h.Failing, h.Err = true, errHangs
	}
	return h
}

// begins notes that the goroutine turns to the disk; report that it is back.
func (r *Record) begins() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.writingSince = time.Now()
}

// report keeps how the last write went, and tells the hub what has changed.
func (r *Record) report(err error) {
	r.mu.Lock()
	before := r.reported
	r.health.Failing, r.health.Err = err != nil, err
	now := r.health
	r.reported = now
	r.mu.Unlock()
	if before.String() != now.String() {
		r.options.OnHealth(now)
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.writingSince = time.Time{}
}
