package modbus

import (
	"errors"
	"time"

	"simmerline/sensors"
)

const (
	// quietFor is how long nothing may come before a line counts as quiet. It
	// is far above the 3.5 characters of serial line V1.02 section 2.5.1, since
	// adapters hand bytes over in lumps.
	quietFor = 50 * time.Millisecond
	// A line that never falls quiet is left after this long, or this many reads.
	quietTime  = 500 * time.Millisecond
	quietReads = 256
)

// wire is a link during one exchange, with what it has told of the time.
type wire struct {
	link       sensors.Link
	budget     time.Duration // how long the exchange may take
	begun      bool
	start, now time.Duration
	scrap      [64]byte // for bytes that are thrown away
}

// hear reads and keeps the time. The link tells the time only with each read,
// so the first one sets the start.
func (w *wire) hear(p []byte, wait time.Duration) (int, error) {
	n, at, err := w.link.Read(p, wait)
	if !w.begun {
		w.begun, w.start = true, at
		if errors.Is(err, sensors.ErrTimeout) {
			w.start -= wait
		}
	}
	w.now = at
	return n, err
}

// spent says that the exchange has used up its time.
func (w *wire) spent() bool { return w.begun && w.now-w.start >= w.budget }

// within shortens a wait to what is left of the exchange.
func (w *wire) within(wait time.Duration) time.Duration {
	return min(wait, w.start+w.budget-w.now)
}

// quiet throws away what comes until the line is quiet.
func (w *wire) quiet() error {
	var begin time.Duration
	for i := range quietReads {
		_, err := w.hear(w.scrap[:], quietFor)
		if errors.Is(err, sensors.ErrTimeout) {
			return nil
		}
		if err != nil {
			return err
		}
		if i == 0 {
			begin = w.now
		}
		if w.now-begin >= quietTime {
			break
		}
	}
	return w.link.Discard()
}

// outwait listens once for an answer that is late, to throw it away.
func (w *wire) outwait(wait time.Duration, faults *sensors.Faults) error {
	_, err := w.hear(w.scrap[:], wait)
	if errors.Is(err, sensors.ErrTimeout) {
		return nil
	}
	if err != nil {
		return err
	}
	faults.WrongAnswers++
	return w.quiet()
}
