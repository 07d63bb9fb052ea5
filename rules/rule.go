package rules

import "time"

// Kind is the kind of a condition.
type Kind uint8

// The kinds of condition, each with what it looks at.
const (
	KindUnspecified     Kind = iota
	Above                    // a bath or channel at Setpoint or above
	Below                    // a bath or channel at Setpoint or below
	Outside                  // a bath or channel below SetpointLow or above Setpoint
	Rising                   // a bath or channel rising by Setpoint a minute or more, over Window
	Falling                  // a bath or channel falling by Setpoint a minute or more, over Window
	NearBoiling              // a bath within Setpoint kelvin of the local boiling point, or above it
	ReachesWithin            // a bath forecast to reach Setpoint within Window
	BoiledDry                // a bath Setpoint kelvin above the local boiling point, or more
	ContactOpen              // a contact open
	ContactClosed            // a contact closed
	Silent                   // a channel unheard for longer than its limit, or its port gone
	Stuck                    // a channel that moved less than Setpoint during Window
	OutOfRange               // a channel whose readings are bad for any other reason than silence
	Lost                     // a channel silent or bad
	PortLost                 // every channel of a port silent
	AboveWhileHot            // a gas channel at Setpoint or above while a bath is hot
	OpenWhileHot             // a contact open while a bath is hot
	LostWhileHot             // a channel silent or bad while a bath is hot
	WarmingWhileHot          // a channel not to be trusted yet while a bath is hot
	NotTrustedWhileCool      // a channel lost or not to be trusted yet while no bath is hot
	NobodyToCall             // a bath hot and no working way to call anyone
	RecordFailing            // the record can't be kept
	WasDark                  // the hub was not running while a bath was hot, and nobody has acknowledged it
	OverRange                // a gas channel beyond what its cell can show
)

// kinds says what each kind is called in a bench file, and what it needs.
var kinds = [...]struct {
	word                      string
	bath, channel, port       bool // what it may look at
	setpoint, low, needWindow bool // which figures it takes
}{
	Above:               {word: "above", bath: true, channel: true, setpoint: true},
	Below:               {word: "below", bath: true, channel: true, setpoint: true},
	Outside:             {word: "outside", bath: true, channel: true, setpoint: true, low: true},
	Rising:              {word: "rising", bath: true, channel: true, setpoint: true, needWindow: true},
	Falling:             {word: "falling", bath: true, channel: true, setpoint: true, needWindow: true},
	NearBoiling:         {word: "near-boiling", bath: true, setpoint: true},
	ReachesWithin:       {word: "reaches-within", bath: true, setpoint: true, needWindow: true},
	BoiledDry:           {word: "boiled-dry", bath: true, setpoint: true},
	ContactOpen:         {word: "open", channel: true},
	ContactClosed:       {word: "closed", channel: true},
	Silent:              {word: "silent", channel: true},
	Stuck:               {word: "stuck", bath: true, channel: true, setpoint: true, needWindow: true},
	OutOfRange:          {word: "out-of-range", channel: true},
	Lost:                {word: "lost", channel: true},
	PortLost:            {word: "port-lost", port: true},
	AboveWhileHot:       {word: "above-while-hot", channel: true, setpoint: true},
	OpenWhileHot:        {word: "open-while-hot", channel: true},
	LostWhileHot:        {word: "lost-while-hot", channel: true},
	WarmingWhileHot:     {word: "warming-while-hot", channel: true},
	NotTrustedWhileCool: {word: "not-trusted-while-cool", channel: true},
	NobodyToCall:        {word: "nobody-to-call"},
	RecordFailing:       {word: "record-failing"},
	WasDark:             {word: "was-dark"},
	OverRange:           {word: "over-range", channel: true},
}

// String gives the word a bench file uses for the kind.
func (k Kind) String() string {
	if int(k) < len(kinds) && kinds[k].word != "" {
		return kinds[k].word
	}
	return "unspecified"
}

// ParseKind reads the word of a kind; ok is false for any other word.
func ParseKind(word string) (kind Kind, ok bool) {
	for k := range kinds {
		if kinds[k].word == word && word != "" {
			return Kind(k), true
		}
	}
	return KindUnspecified, false
}

// TakesBath says whether a condition of this kind may look at a bath.
func (k Kind) TakesBath() bool { return int(k) < len(kinds) && kinds[k].bath }

// TakesChannel says whether a condition of this kind may look at a channel.
func (k Kind) TakesChannel() bool { return int(k) < len(kinds) && kinds[k].channel }

// TakesPort says whether a condition of this kind looks at a port.
func (k Kind) TakesPort() bool { return int(k) < len(kinds) && kinds[k].port }

// TakesSetpoint says whether a condition of this kind needs a setpoint.
func (k Kind) TakesSetpoint() bool { return int(k) < len(kinds) && kinds[k].setpoint }

// TakesWindow says whether a condition of this kind needs a window of time.
func (k Kind) TakesWindow() bool { return int(k) < len(kinds) && kinds[k].needWindow }

// Condition is one typed condition. Which fields count depends on its kind. A
// setpoint is in the unit of what is looked at (°C, ppm, kPa); it is in kelvin
// for NearBoiling and BoiledDry, in the unit per minute for Rising and Falling,
// and in the unit (a difference) for Stuck.
type Condition struct {
	Kind                Kind
	Bath, Channel, Port string // exactly one is set, where the kind looks at one
	Setpoint            float64
	SetpointLow         float64 // the lower edge of Outside
	// Window is the time over which Rising, Falling and Stuck look back, and
	// ReachesWithin looks ahead.
	Window time.Duration
}

// Rule is a condition with all that makes it an alarm.
type Rule struct {
	// Name is unique, and what commands call the alarm.
	Name string
	// Any is the alarm's condition: true when any of these is true.
	Any []Condition
	// Deadband is how far back over the setpoint a reading must come before the
	// condition is false again, in the setpoint's unit.
	Deadband float64
	// OnDelay is how long the condition must be true before the alarm is
	// raised, OffDelay how long it must be false before it clears.
	OnDelay, OffDelay time.Duration
	Priority          Priority
	// Latching keeps the alarm standing after its condition has cleared, until
	// it is reset.
	Latching bool
	Class    Class
	// Subject is what the alarm is about: "hot sulfide".
	Subject string
	Words   Words
	// Whose says where the setpoint comes from: "the usual line, 90 °C".
	Whose string
	// WhileInUse suppresses the alarm by design while the bench is put away.
	WhileInUse bool
}

// Words are what an alarm says.
type Words struct {
	// Means says what is so, without a figure: "over the line".
	Means string
	// Forecast is said instead of Means where a forecast raised the alarm.
	Forecast string
	// Do says what to do now, in one short sentence. NearBench says that it
	// asks somebody to the bench; DoAway is then said instead while the fumes
	// may be dangerous.
	Do        string
	NearBench bool
	DoAway    string
	// Still is said instead of Do once somebody has acknowledged, where the
	// matter goes on; Do is repeated where it is empty.
	Still string
	// Over says what is so once the condition has cleared: "back below its line".
	Over string
	// Cleared says what to do while a latching alarm waits for its reset.
	Cleared string
	// Own marks words written in a bench file. What they ask can't be known, so
	// none of them is said while the fumes may be dangerous.
	Own bool
}
