package rules

import (
	"errors"
	"fmt"
	"time"

	"simmerline/sensors"
)

// Input is what may reach the engine in one step. The zero Input is a tick.
type Input struct {
	Readings []sensors.Reading
	// Ports says of ports that they have gone or come back.
	Ports []PortChange
	// Slept says that the machine was suspended: what was heard before is no
	// longer known.
	Slept bool
	// Command is what a person asks for, nil in most steps.
	Command *Command
	// Facts is what the hub knows of itself, nil when nothing has changed.
	Facts *Facts
}

// PortChange says that a port has gone (every channel of it is unplugged at
// once) or is open.
type PortChange struct {
	Port string
	Gone bool
}

// Facts is what the hub knows of itself and a rule may need.
type Facts struct {
	// CanCall: there is a working way to call somebody.
	CanCall bool
	// RecordFails says in words why the record can't be kept; empty when it can.
	RecordFails string
}

// CommandKind is what a person can ask of the engine.
type CommandKind uint8

// The commands.
const (
	Acknowledge CommandKind = iota + 1
	Reset
	PutAway
	TakeIntoUse
)

// Command is what a person asks of the engine.
type Command struct {
	Kind  CommandKind
	Alarm string // the alarm's name, for Acknowledge and Reset
	By    string // who asks
	// Why is an optional word. For PutAway it says by what the baths are known
	// to be cool, where no probe tells it any more.
	Why string
}

// Why a command is refused. Each comes wrapped in a sentence that says what to
// do instead.
var (
	ErrNoSuchAlarm = errors.New("no such alarm")
	ErrNotNow      = errors.New("not possible now")
	ErrNoName      = errors.New("a name is needed")
)

func refuse(kind error, format string, args ...any) error {
	return fmt.Errorf("rules: %w: %s", kind, fmt.Sprintf(format, args...))
}

// Cause is why an alarm event happened.
type Cause uint8

// The causes.
const (
	CauseUnspecified Cause = iota
	CauseRaised
	CauseCleared
	CauseAcknowledged
	CauseReset
	CauseSoundsAgain // unacknowledged, or acknowledged but still danger, for too long
	CauseWorsened    // acknowledged, and clearly worse than it was then
	CauseSuppressed
	CauseUnsuppressed
)

// Causes lists every cause, for tables and tests.
var Causes = []Cause{
	CauseRaised, CauseCleared, CauseAcknowledged, CauseReset, CauseSoundsAgain,
	CauseWorsened, CauseSuppressed, CauseUnsuppressed,
}

// String names the cause.
func (c Cause) String() string {
	switch c {
	case CauseRaised:
		return "raised"
	case CauseCleared:
		return "cleared"
	case CauseAcknowledged:
		return "acknowledged"
	case CauseReset:
		return "reset"
	case CauseSoundsAgain:
		return "sounds again"
	case CauseWorsened:
		return "worsened"
	case CauseSuppressed:
		return "suppressed"
	case CauseUnsuppressed:
		return "no longer suppressed"
	default:
		return "unspecified"
	}
}

// Event is one step in the life of an alarm.
type Event struct {
	At       time.Duration // offset of the step in which it happened
	Alarm    string
	From, To State
	Cause    Cause
	Priority Priority
	Class    Class
	Subject  string
	Trigger  Trigger
	// FirstOut counts the alarms that were raised since none stood, this one
	// included: 1 is the first.
	FirstOut int
	// Sentence is what to say of it, with figures, and what to do.
	Sentence string
	By, Why  string // who acknowledged or reset, and their word
}

// Trigger is what made an alarm's condition true.
type Trigger struct {
	Channel string // the channel that governed; empty where none did
	Bath    string // the bath, where the alarm is about one
	Port    string // the port, where the alarm is about one
	Value   sensors.Value
	Reason  sensors.Reason // why the channel is not good, where that is the matter
	// Setpoint is what was crossed, in the unit of Value; HasSetpoint is false
	// where nothing was.
	Setpoint    float64
	HasSetpoint bool
	At          time.Duration // when the reading that decided it arrived
}
