package hub

import (
	"time"

	"simmerline/hub/record"
	"simmerline/rules"
	"simmerline/sensors"
)

// Snapshot is the whole state of the hub at one moment. It is never changed
// after it has been published, so that anybody may keep it.
type Snapshot struct {
	Bench      string // the bench's name in the bench file
	Fahrenheit bool   // the bench file's choice for people; every number here is in °C
	Run        uint64 // numbers the runs of this hub's record, from 1
	At         time.Duration
	Wall       time.Time
	// Sequence is the number of the newest announcement this state includes.
	Sequence   uint64
	View       rules.View
	Protection Protection
	Ports      []sensors.PortStatus // in the order of the bench file
	Session    *Session             // the one that is open, nil when none is
	Sound      SoundState
	Record     RecordState
	Stations   int // clients that say they will call somebody
	Start      StartNotice
}

// Protection says whether the bench is watched over as its file asks.
type Protection struct {
	// Complete: every sulfide bath has a trusted temperature and every gas
	// channel measures.
	Complete bool
	// Missing says what is not, one plain phrase each: "fume head warming up".
	Missing []string
	// ReadyIn is how long until the last warm-up ends; 0 where that is unknown
	// or nothing is warming up.
	ReadyIn time.Duration
}

// SoundState is what this hub can do to be heard.
type SoundState struct {
	CanSound bool
	By       string         // "aplay", "terminal bell"
	Detail   string         // why not, or what is wrong with it
	Now      rules.Priority // what is sounding now
}

// RecordState says how the record fares.
type RecordState struct {
	Recording bool
	Place     string // the folder it is kept in
	Fails     string // why it can't be kept now, empty when it can
	Dropped   uint64 // readings that were not kept since this run began
}

// StartNotice is what this hub's last start means.
type StartNotice struct {
	// After: there was a run before this one.
	After bool
	// Clean: the run before was ended on purpose.
	Clean bool
	// Dark is how long no hub ran before this start, by the wall clock; 0 where
	// that is not known, as when the clock was set back meanwhile.
	Dark time.Duration
	// Means says in a sentence what that means; empty on a first start.
	Means string
}

// Session is a named interval over the record, with what the wall clock said at
// its ends, for people.
type Session struct {
	record.Session
	StartWall time.Time
	EndWall   time.Time // zero while the session is open
}

// Recorded says how safe an announcement is.
type Recorded uint8

// The grades of safety.
const (
	RecordedNo      Recorded = iota // not yet, or the record fails
	RecordedWritten                 // survives the end of this process
	RecordedSynced                  // survives a power cut
)

// RecordedGrades lists them all, for tables and tests.
var RecordedGrades = []Recorded{RecordedNo, RecordedWritten, RecordedSynced}

// String gives the word the API and the commands use.
func (r Recorded) String() string {
	switch r {
	case RecordedWritten:
		return "written"
	case RecordedSynced:
		return "synced"
	default:
		return "no"
	}
}

// Announcement is one numbered thing that clients must not miss. Exactly one of
// Alarm and Notice is set.
type Announcement struct {
	Sequence uint64 // counts up by one over all runs of a record, from 1
	Run      uint64
	At       time.Duration
	Wall     time.Time
	Alarm    *rules.Event
	Notice   *Notice
	// Recorded is how safe it was when it was announced: written, or no.
	Recorded Recorded
}

// NoticeKind is what a notice tells of.
type NoticeKind uint8

// The kinds of notice.
const (
	NoticeUnspecified NoticeKind = iota
	NoticeStarted                // the hub has started
	NoticeSessionStarted
	NoticeSessionEnded
	NoticeMark
	NoticeInRange // a bath has come into its working range
	NoticePutAway
	NoticeTakenIntoUse
	NoticeClockStepped // the wall clock was set
	NoticeGap          // the machine slept, or readings were not kept
)

// NoticeKinds lists them all, for tables and tests.
var NoticeKinds = []NoticeKind{
	NoticeStarted, NoticeSessionStarted, NoticeSessionEnded, NoticeMark, NoticeInRange,
	NoticePutAway, NoticeTakenIntoUse, NoticeClockStepped, NoticeGap,
}

// String names the kind.
func (k NoticeKind) String() string {
	switch k {
	case NoticeStarted:
		return "hub started"
	case NoticeSessionStarted:
		return "session started"
	case NoticeSessionEnded:
		return "session ended"
	case NoticeMark:
		return "mark"
	case NoticeInRange:
		return "in range"
	case NoticePutAway:
		return "put away"
	case NoticeTakenIntoUse:
		return "taken into use"
	case NoticeClockStepped:
		return "clock stepped"
	case NoticeGap:
		return "gap"
	default:
		return "unspecified"
	}
}

// Notice is something worth telling that is no alarm.
type Notice struct {
	Kind    NoticeKind
	Text    string // a sentence for people
	By      string // who did it, where somebody did
	Bath    string // the bath it is about, where it is about one
	Session uint64 // the session it belongs to, 0 for none
}
