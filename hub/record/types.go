package record

import (
	"cmp"
	"time"

	"simmerline/sensors"
)

// Moment is a point in the record: a run of the hub and the monotonic offset
// since that run began. Moments are ordered by run, then offset.
type Moment struct {
	Run int64
	At  time.Duration
}

// Compare gives -1, 0 or 1 as m is before, at or after o.
func (m Moment) Compare(o Moment) int {
	if c := cmp.Compare(m.Run, o.Run); c != 0 {
		return c
	}
	return cmp.Compare(m.At, o.At)
}

// Range is a stretch of the record that may span runs. From belongs to it,
// Until does not.
type Range struct{ From, Until Moment }

// Reading is one kept reading. Run is set by the record when it is written.
type Reading struct {
	sensors.Reading
	Run int64
	// Test marks a reading made while its sensor was under test; it counts in
	// no statistic.
	Test bool
}

// Moment tells when the reading arrived.
func (r Reading) Moment() Moment { return Moment{r.Run, r.At} }

// Entry is anything kept beside readings: *Event, *Mark, *SessionEnd,
// *ClockNote, *PortNote, *State and the record's own. Where an entry has a Run
// of its own, the record sets it to the present run.
type Entry interface {
	insert(w *writer) error
	moment() Moment
}

// Event is one step in the life of an alarm. States and causes are the words
// of the rules; the record only keeps them.
type Event struct {
	// Sequence counts the events of the whole record from 1, with no hole.
	Sequence int64
	Moment
	Alarm           string
	From, To, Cause string
	Priority, Class int
	Subject         string // what the alarm is about, in words
	Channel         string // the channel that governed; may be empty
	// Number and Unit are what was measured, NaN where no number was; Value is
	// the same in words.
	Number   float64
	Unit     string
	Value    string
	Sentence string
	By, Why  string // who acted, and their word, where somebody did
}

// How says how a session was started or ended.
type How string

// The ways a session starts or ends.
const (
	ByCommand   How = "by command"
	ByItself    How = "by itself"
	ByPowerLoss How = "by power loss" // ends only: no end was recorded
)

// Session is a named interval over the record.
type Session struct {
	ID         int64
	Name       string
	Start      Moment
	StartedHow How
	StartedBy  string
	// End, EndedHow and EndedBy are zero while the session is open.
	End      Moment
	EndedHow How
	EndedBy  string
	Kept     bool // retention never deletes it
}

// Open says whether the session has not ended.
func (s Session) Open() bool { return s.EndedHow == "" }

// SessionEnd ends an open session. End is given in full, since a session that
// lost its power ends in an earlier run.
type SessionEnd struct {
	ID  int64
	End Moment
	How How
	By  string
}

// Mark is a note at a moment, in a session or in none.
type Mark struct {
	ID      int64
	Session int64 // 0 outside any session
	Moment
	Text, By string
}

// ClockKind says what a clock note tells.
type ClockKind string

// The kinds of clock note.
const (
	ClockStepped ClockKind = "stepped" // the wall clock was set
	ClockSlept   ClockKind = "slept"   // the machine was suspended
)

// ClockNote says what the wall clock showed at an offset, where it no longer
// follows from what was known before.
type ClockNote struct {
	Moment
	Kind   ClockKind
	Wall   time.Time
	Detail string
}

// GapKind says why readings are missing.
type GapKind string

// The kinds of gap.
const (
	GapQueueFull   GapKind = "queue full"   // the disk was too slow or broken
	GapStorageFull GapKind = "storage full" // the disk was kept free for events
)

// Gap says that rows are missing from the record, and how many.
type Gap struct {
	Run              int64
	From, Until      time.Duration // offsets of the first and the last lost row
	Kind             GapKind
	Readings, Events int64
}

// PortNote keeps a change of a port's state, in words.
type PortNote struct {
	Moment
	Port, State, Device, Detail string
}

// State is the rules' own state, to carry alarms over a restart. The record
// keeps the newest of each run and does not look inside.
type State struct {
	Moment
	JSON []byte
}

// Run is one run of the hub, from start to end.
type Run struct {
	ID       int64
	Wall     time.Time // what the wall clock showed at offset 0
	Bench    int64     // which bench text it used
	Software string    // which version of the hub
	// First and Last are the offsets of the first and the last thing written. A
	// clock may have run on while no hub did, so First need not be near 0.
	First, Last time.Duration
	Clean       bool // it ended as it should
}
