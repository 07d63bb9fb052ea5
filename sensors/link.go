package sensors

import (
	"errors"
	"time"
)

// The ways a link can end or stay quiet. Drivers return ErrUnplugged and
// ErrClosed unchanged; ErrTimeout is normal life and never ends an exchange
// with an error.
var (
	// ErrTimeout means that nothing arrived within the wait. It is not an end.
	ErrTimeout = errors.New("sensors: nothing arrived in time")
	// ErrUnplugged means that the device has gone, though we did not close it.
	ErrUnplugged = errors.New("sensors: the device has gone")
	// ErrClosed means that we closed the port ourselves.
	ErrClosed = errors.New("sensors: the port was closed")
)

// Link is what a driver sees of a port. Its times are offsets on the hub's
// own clock, so a driver needs no clock of its own.
type Link interface {
	// Read waits at most the given time for bytes and returns how many came and
	// when the last of them arrived. With none it returns ErrTimeout (and the
	// offset at which it gave up), never (0, _, nil).
	Read(p []byte, wait time.Duration) (n int, at time.Duration, err error)
	// Write sends all of p or fails.
	Write(p []byte) error
	// Discard throws away what has been received but not yet read.
	Discard() error
}

// Driver speaks one protocol with the device at the other end of a link. It is
// used by one goroutine at a time and starts none.
type Driver interface {
	// Exchange does one round: asks and listens, or only listens, and returns
	// what was heard. It returns within a few seconds of link time even when
	// the device is mute. Its error is ErrUnplugged, ErrClosed or another
	// failure of the link; trouble on the wire is counted in Faults instead.
	Exchange(link Link) (Exchanged, error)
	// Reset forgets half-received frames; it is called after each open.
	Reset()
	// Interval is how long after the start of one exchange the next begins;
	// 0 means at once, as for devices that talk by themselves.
	Interval() time.Duration
}

// Exchanged is what one exchange brought.
type Exchanged struct {
	Readings []Reading
	Faults   Faults
}

// Faults counts what was heard on a wire and refused. Counts only grow; no
// refused byte ever becomes a reading.
type Faults struct {
	BadChecksum  uint64 // a frame or line whose check did not fit
	Malformed    uint64 // not a line or frame of the protocol
	NotMapped    uint64 // well formed, but names nothing in the bench file
	Oversize     uint64 // longer than a line or frame may be; a flood
	NotANumber   uint64 // a mapped value that is no finite number
	NoAnswer     uint64 // asked, and not answered in time
	Exceptions   uint64 // the device answered that it can't
	WrongAnswers uint64 // an answer to another question, or a mangled echo
}

// Add adds the counts of another.
func (f *Faults) Add(o Faults) {
	f.BadChecksum += o.BadChecksum
	f.Malformed += o.Malformed
	f.NotMapped += o.NotMapped
	f.Oversize += o.Oversize
	f.NotANumber += o.NotANumber
	f.NoAnswer += o.NoAnswer
	f.Exceptions += o.Exceptions
	f.WrongAnswers += o.WrongAnswers
}

// Total is the sum of all counts.
func (f Faults) Total() uint64 {
	return f.BadChecksum + f.Malformed + f.NotMapped + f.Oversize +
		f.NotANumber + f.NoAnswer + f.Exceptions + f.WrongAnswers
}

// PortState is where a port stands.
type PortState uint8

// The states of a port.
const (
	PortUnknown PortState = iota
	PortMissing           // its device is not plugged in; it is waited for
	PortOpening           // found, not open yet, or settling after the open
	PortOpen              // open and in use
	PortBusy              // held by another program
	PortDenied            // we may not open it
)

// PortStates lists every state, for tables and tests.
var PortStates = []PortState{PortUnknown, PortMissing, PortOpening, PortOpen, PortBusy, PortDenied}

// String gives the state as the words screens use.
func (s PortState) String() string {
	switch s {
	case PortMissing:
		return "not plugged in"
	case PortOpening:
		return "opening"
	case PortOpen:
		return "open"
	case PortBusy:
		return "held by another program"
	case PortDenied:
		return "not permitted"
	default:
		return "unknown"
	}
}

// PortStatus is what a port says of itself.
type PortStatus struct {
	Port   string        // its name in the bench file
	Device string        // the device node in use, empty when there is none
	State  PortState     //
	Since  time.Duration // offset at which State began
	Detail string        // a sentence for people: what is wrong and how to mend it
	// Unprotected is true when nothing on this wire guards against flipped bits.
	Unprotected bool
	Reopens     uint64 // how often it has been opened again
	Faults      Faults // all refused so far, since the hub started
}

// Batch is what one port tells the hub at once: readings, its state, or both.
type Batch struct {
	Port     string
	At       time.Duration
	Readings []Reading
	Status   *PortStatus // nil when nothing has changed
}
