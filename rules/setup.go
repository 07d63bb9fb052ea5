package rules

import (
	"time"

	"simmerline/sensors"
)

// Setup is everything the engine needs to know of a bench. hub/bench makes it
// from a bench file.
type Setup struct {
	// Boiling is the local boiling point of water.
	Boiling sensors.Celsius
	// BoilingFrom says in words where Boiling comes from: "altitude 1609 m".
	BoilingFrom string
	Baths       []Bath
	Channels    []Channel
	// Rules are the user's own, and changes to the built-in ones by name.
	Rules []Rule
	// ReAlarmAfter is how long an alarm may stay unacknowledged, or a danger
	// acknowledged but still true, before it sounds again. 0 means 5 minutes.
	ReAlarmAfter time.Duration
}

// BathKind is what a bath is for.
type BathKind uint8

// The kinds of bath.
const (
	BathOther BathKind = iota
	BathSulfide
	BathSoda
	BathRinse
	BathPickle
)

// BathKinds lists every kind, for tables and tests.
var BathKinds = []BathKind{BathOther, BathSulfide, BathSoda, BathRinse, BathPickle}

// String gives the word a bench file uses for the kind.
func (k BathKind) String() string {
	switch k {
	case BathSulfide:
		return "sulfide"
	case BathSoda:
		return "soda"
	case BathRinse:
		return "rinse"
	case BathPickle:
		return "pickle"
	default:
		return "other"
	}
}

// Bath is one vessel on the bench.
type Bath struct {
	Name  string // unique: small letters, digits and hyphens
	Label string // what people call it; Name where empty
	Kind  BathKind
	// Probes names the temperature channels in this bath. With several, the
	// highest good one governs: the cautious one.
	Probes []string
	// RangeLow and RangeHigh bound the working range; both 0 where there is none.
	RangeLow, RangeHigh sensors.Celsius
}

// Title is what people call the bath.
func (b Bath) Title() string { return titleOr(b.Label, b.Name) }

// HasRange says whether the bath has a working range.
func (b Bath) HasRange() bool { return b.RangeHigh > b.RangeLow }

// Channel is what the engine needs to know of a channel.
type Channel struct {
	Name     string
	Label    string
	Port     string // the port it comes from, in the bench file's words
	Quantity sensors.Quantity
	Gas      sensors.Gas
	// SilentAfter is how long nothing may be heard before the channel counts as
	// lost. 0 means 10 s.
	SilentAfter time.Duration
	// Noise is the stated noise of a gas cell in ppm; a warning is never set
	// below three times this.
	Noise sensors.PPM
	// Airflow marks the contact that proves the hood's airflow when closed.
	Airflow bool
}

// Title is what people call the channel.
func (c Channel) Title() string { return titleOr(c.Label, c.Name) }

func titleOr(label, name string) string {
	if label != "" {
		return label
	}
	return name
}

// Priority is how urgent an alarm is. There are three at most, so that each
// means something.
type Priority uint8

// The priorities. A caution stands on the screen and makes no sound.
const (
	PriorityUnspecified Priority = iota
	Caution
	Warning
	Danger
)

// Priorities lists them from the least urgent.
var Priorities = []Priority{Caution, Warning, Danger}

// String gives the word every screen uses.
func (p Priority) String() string {
	switch p {
	case Caution:
		return "caution"
	case Warning:
		return "warning"
	case Danger:
		return "danger"
	default:
		return "unspecified"
	}
}

// Class orders what is said when several alarms stand at once. The lower class
// speaks first, and while one of the first two stands nobody is asked to go
// near the bench.
type Class uint8

// The classes, in the order in which they speak.
const (
	ClassUnspecified   Class = iota
	FumeDanger               // gas in the room
	FumeProtectionLost       // a bath is hot and nothing tells us of gas, or carries it away
	BathDanger               // a bath over its line, boiling or dry
	EverythingElse
)

// Classes lists them in the order in which they speak.
var Classes = []Class{FumeDanger, FumeProtectionLost, BathDanger, EverythingElse}

// String names the class.
func (c Class) String() string {
	switch c {
	case FumeDanger:
		return "fume danger"
	case FumeProtectionLost:
		return "fume protection lost"
	case BathDanger:
		return "bath danger"
	case EverythingElse:
		return "everything else"
	default:
		return "unspecified"
	}
}

// KeepsAway says whether, while such an alarm stands, no text may ask anybody
// to go near the bench.
func (c Class) KeepsAway() bool { return c == FumeDanger || c == FumeProtectionLost }
