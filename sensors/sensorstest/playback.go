package sensorstest

import (
	"bytes"
	"errors"
	"testing"
	"time"

	"simmerline/sensors"
)

// Playback is a link that plays a recording in its own time: a wait passes at
// once. Behind the last event it stays silent for ever, unless the recording
// ends with an unplugged or closed link.
type Playback struct {
	t      testing.TB
	events Recording
	now    time.Duration
	due    time.Duration // when events[0] is to happen
	over   error

	// Lump is the most bytes that one Read gives; 0 means as many as came.
	Lump int
	// Discarded counts the bytes that were thrown away unread.
	Discarded int
}

var _ sensors.Link = (*Playback)(nil)

// NewPlayback plays a recording to a driver under test, which must use all of
// it by the end of the test: Close is called then.
func NewPlayback(t testing.TB, recording Recording) *Playback {
	t.Helper()
	p := &Playback{t: t, events: append(Recording(nil), recording...)}
	if len(recording) > 0 {
		p.due = recording[0].At
	}
	t.Cleanup(p.Close)
	return p
}

// Now is the time on this link.
func (p *Playback) Now() time.Duration { return p.now }

// Pass lets time go by, as between two exchanges.
func (p *Playback) Pass(d time.Duration) { p.now += d }

// done goes on to the next event. A device keeps its own time once it has been
// asked, however late we come to read.
func (p *Playback) done() {
	was, from := p.events[0], p.due
	if was.Kind == Written {
		from = p.now
	}
	p.events = p.events[1:]
	if len(p.events) > 0 {
		p.due = from + p.events[0].At - was.At
	}
}

// Read gives the next bytes that arrive within the wait.
func (p *Playback) Read(to []byte, wait time.Duration) (int, time.Duration, error) {
	if p.over != nil {
		return 0, p.now, p.over
	}
	if len(p.events) == 0 || p.events[0].Kind == Written || p.due > p.now+wait || len(to) == 0 {
		p.now += wait
		return 0, p.now, sensors.ErrTimeout
	}
	p.now = max(p.now, p.due)
	next := &p.events[0]
	if next.Kind == Ended {
		p.over = next.Err
		p.done()
		return 0, p.now, p.over
	}
	if p.Lump > 0 && len(to) > p.Lump {
		to = to[:p.Lump]
	}
	n := copy(to, next.Bytes)
	if next.Bytes = next.Bytes[n:]; len(next.Bytes) == 0 {
		p.done()
	}
	return n, p.now, nil
}

var errUnexpected = errors.New("sensorstest: the recording expects something else")

// Write expects that exactly this is written next.
func (p *Playback) Write(written []byte) error {
	p.t.Helper()
	if p.ended() {
		return p.over
	}
	if len(p.events) == 0 || p.events[0].Kind != Written || !bytes.Equal(p.events[0].Bytes, written) {
		p.t.Errorf("at %v: written % X (%q); the recording has next:\n%s", p.now, written, written, p.head())
		return errUnexpected
	}
	p.done()
	return nil
}

// Discard throws away what has arrived by now.
func (p *Playback) Discard() error {
	for p.over == nil && len(p.events) > 0 && p.events[0].Kind == Arrived && p.due <= p.now {
		p.Discarded += len(p.events[0].Bytes)
		p.done()
	}
	p.ended()
	return p.over
}

// ended says whether the link has ended by now.
func (p *Playback) ended() bool {
	if p.over == nil && len(p.events) > 0 && p.events[0].Kind == Ended && p.due <= p.now {
		p.over = p.events[0].Err
		p.done()
	}
	return p.over != nil
}

// Close fails the test when traffic is left over.
func (p *Playback) Close() {
	p.t.Helper()
	if len(p.events) > 0 {
		p.t.Errorf("%d events of the recording were not used; next:\n%s", len(p.events), p.head())
		p.events = nil
	}
}

func (p *Playback) head() string {
	if len(p.events) == 0 {
		return "nothing"
	}
	return p.events[:min(3, len(p.events))].String()
}
