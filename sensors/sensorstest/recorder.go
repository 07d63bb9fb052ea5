package sensorstest

import (
	"bytes"
	"errors"
	"sync"
	"time"

	"simmerline/sensors"
)

// Recorder is a link in front of another that keeps what passes.
type Recorder struct {
	link sensors.Link
	now  func() time.Duration

	mu        sync.Mutex // guards recording
	recording Recording
}

var _ sensors.Link = (*Recorder)(nil)

// NewRecorder records the traffic of a link. A link tells the time of what
// arrives only, so now must give the offset of what is written, on the same
// clock.
func NewRecorder(link sensors.Link, now func() time.Duration) *Recorder {
	return &Recorder{link: link, now: now}
}

// Recording is a copy of what has passed so far.
func (r *Recorder) Recording() Recording {
	r.mu.Lock()
	defer r.mu.Unlock()
	return append(Recording(nil), r.recording...)
}

// keep notes an event. Two clocks are read, so that a write could seem to come
// before the bytes that were read ahead of it; the order in which they passed
// is what counts.
func (r *Recorder) keep(e Event) {
	r.mu.Lock()
	defer r.mu.Unlock()
	e.At = e.At.Round(time.Microsecond)
	if n := len(r.recording); n > 0 {
		e.At = max(e.At, r.recording[n-1].At)
	}
	r.recording = append(r.recording, e)
}

// end notes that the link has ended.
func (r *Recorder) end(at time.Duration, err error) {
	if errors.Is(err, sensors.ErrUnplugged) || errors.Is(err, sensors.ErrClosed) {
		r.keep(Event{Kind: Ended, At: at, Err: err})
	}
}

// Read reads from the link behind.
func (r *Recorder) Read(p []byte, wait time.Duration) (int, time.Duration, error) {
	n, at, err := r.link.Read(p, wait)
	if n > 0 {
		r.keep(Event{Kind: Arrived, At: at, Bytes: bytes.Clone(p[:n])})
	}
	r.end(at, err)
	return n, at, err
}

// Write writes to the link behind.
func (r *Recorder) Write(p []byte) error {
	at := r.now()
	err := r.link.Write(p)
	if err == nil {
		r.keep(Event{Kind: Written, At: at, Bytes: bytes.Clone(p)})
	}
	r.end(at, err)
	return err
}

// Discard discards what waits in the link behind. What is thrown away unread
// can't be recorded.
func (r *Recorder) Discard() error {
	err := r.link.Discard()
	r.end(r.now(), err)
	return err
}
