package rules

// State is where an alarm stands in its life, after ANSI/ISA-18.2-2016 and
// IEC 62682:2022 (testdata/reference/alarm_isa18.csv).
type State uint8

// The states.
const (
	Normal State = iota
	Unacknowledged
	Acknowledged
	RTNUnacknowledged // returned to normal before anybody acknowledged
	LatchedUnacknowledged
	LatchedAcknowledged
	Shelved
	SuppressedByDesign
	OutOfService
)

// States lists every state, for tables and tests.
var States = []State{
	Normal, Unacknowledged, Acknowledged, RTNUnacknowledged, LatchedUnacknowledged,
	LatchedAcknowledged, Shelved, SuppressedByDesign, OutOfService,
}

// String gives the state's name as the reference table spells it.
func (s State) String() string {
	switch s {
	case Normal:
		return "normal"
	case Unacknowledged:
		return "unacknowledged"
	case Acknowledged:
		return "acknowledged"
	case RTNUnacknowledged:
		return "rtn_unacknowledged"
	case LatchedUnacknowledged:
		return "latched_unacknowledged"
	case LatchedAcknowledged:
		return "latched_acknowledged"
	case Shelved:
		return "shelved"
	case SuppressedByDesign:
		return "suppressed_by_design"
	case OutOfService:
		return "out_of_service"
	default:
		return "unknown"
	}
}

// ParseState reads a state's name; ok is false for any other word.
func ParseState(word string) (state State, ok bool) {
	for _, s := range States {
		if s.String() == word {
			return s, true
		}
	}
	return Normal, false
}

// Sounds says whether an alarm in this state sounds, priority permitting.
func (s State) Sounds() bool { return s == Unacknowledged || s == LatchedUnacknowledged }

// Stands says whether an alarm in this state belongs on the screen as an alarm.
func (s State) Stands() bool {
	return s != Normal && !s.hidden()
}

// hidden says whether the alarm is kept from annunciation altogether.
func (s State) hidden() bool {
	return s == Shelved || s == SuppressedByDesign || s == OutOfService
}

// latched says whether the alarm has cleared and waits for its reset.
func (s State) latched() bool { return s == LatchedUnacknowledged || s == LatchedAcknowledged }

// signal is what can happen to an alarm.
type signal uint8

const (
	conditionTrue signal = iota
	conditionFalse
	acknowledge
	reset
	reAlarm
	shelve
	unshelve
	suppress
	unsuppress
	retire
	restore
)

// situation is what a transition depends on besides state and signal.
type situation struct {
	// active: the condition, with its delays, is true at this moment.
	active bool
	// latching: the rule latches.
	latching bool
	// quiet: a caution, which makes no sound and asks for no acknowledge.
	quiet bool
	// hiddenTrue: the condition was true at some time while the alarm was hidden.
	hiddenTrue bool
}

// next is the whole life of an alarm: the state that follows s on a signal. It
// is s itself where the signal means nothing there. The transitions are those
// of testdata/reference/alarm_isa18.csv, plus our own rule that a latching
// alarm that was true while hidden comes back unacknowledged.
func (s State) next(sig signal, in situation) State {
	switch sig {
	case shelve:
		if !s.hidden() {
			return Shelved
		}
	case suppress:
		if s != OutOfService {
			return SuppressedByDesign
		}
	case retire:
		return OutOfService
	case unshelve:
		if s == Shelved {
			return in.shown()
		}
	case unsuppress:
		if s == SuppressedByDesign {
			return in.shown()
		}
	case restore:
		if s == OutOfService {
			return in.shown()
		}
	case conditionTrue:
		if !s.hidden() && s != Acknowledged {
			return Unacknowledged
		}
	case reAlarm:
		if s == Acknowledged {
			return Unacknowledged
		}
	default:
		return s.nextQuieter(sig, in)
	}
	return s
}

// nextQuieter is the part of the life in which an alarm becomes quieter.
func (s State) nextQuieter(sig signal, in situation) State {
	switch {
	case sig == conditionFalse && s == Unacknowledged:
		if in.latching {
			return LatchedUnacknowledged
		}
		if in.quiet {
			return Normal
		}
		return RTNUnacknowledged
	case sig == conditionFalse && s == Acknowledged:
		if in.latching {
			return LatchedAcknowledged
		}
		return Normal
	case sig == acknowledge && s == Unacknowledged:
		return Acknowledged
	case sig == acknowledge && s == RTNUnacknowledged:
		return Normal
	case sig == acknowledge && s == LatchedUnacknowledged:
		return LatchedAcknowledged
	case sig == reset && s == LatchedUnacknowledged:
		return RTNUnacknowledged
	case sig == reset && s == LatchedAcknowledged:
		return Normal
	}
	return s
}

// shown is the state of an alarm that comes out of hiding.
func (in situation) shown() State {
	switch {
	case in.active:
		return Unacknowledged
	case in.latching && in.hiddenTrue:
		return LatchedUnacknowledged
	default:
		return Normal
	}
}
