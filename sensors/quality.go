package sensors

// Quality says how far a number may be trusted, in the three grades of
// IEC 62541-8. The zero value is unknown: nothing has been heard yet.
type Quality uint8

// The grades of quality.
const (
	QualityUnknown   Quality = iota
	QualityGood              // may raise and clear alarms
	QualityUncertain         // shown and kept; neither raises nor clears an alarm
	QualityBad               // carries no number; is itself a reason to call
)

// Qualities lists every grade, for tables and tests.
var Qualities = []Quality{QualityUnknown, QualityGood, QualityUncertain, QualityBad}

// String gives the grade as the word every screen uses.
func (q Quality) String() string {
	switch q {
	case QualityGood:
		return "good"
	case QualityUncertain:
		return "uncertain"
	case QualityBad:
		return "bad"
	default:
		return "unknown"
	}
}

// Reason says why a reading is not simply good. A good reading has none.
type Reason uint8

// The reasons. Each is told apart because each has its own mend.
const (
	ReasonNone         Reason = iota
	ReasonNotHeard            // unknown: nothing has come from this channel yet
	ReasonSilent              // bad: it was heard before, and has stopped
	ReasonUnplugged           // bad: its port has gone
	ReasonNotANumber          // bad: the device sent no number (NaN, empty, "err")
	ReasonOutOfRange          // bad: no such temperature or pressure is credible here
	ReasonOverRange           // bad: a gas level above what the cell can measure; counts as danger
	ReasonUnderRange          // bad: a gas level so far below zero that the cell must be at fault
	ReasonDeviceFault         // bad: the device itself reports a fault
	ReasonOpenCircuit         // bad: the device reports an open probe
	ReasonShortCircuit        // bad: the device reports a shorted probe
	ReasonSettling            // uncertain: the port has just been opened; bad where a gas is beyond its range meanwhile
	ReasonWarmingUp           // uncertain: the cell is not ready to be trusted yet; bad where it is beyond its range meanwhile
	ReasonPowerOnValue        // uncertain: exactly 85.0 °C by a jump, the power-on value of digital probes
	ReasonStuck               // uncertain: the number does not move where it must
	ReasonUnderTest           // uncertain: a check is being made with this channel
)

// Reasons lists every reason, for tables and tests.
var Reasons = []Reason{
	ReasonNone, ReasonNotHeard, ReasonSilent, ReasonUnplugged, ReasonNotANumber,
	ReasonOutOfRange, ReasonOverRange, ReasonUnderRange, ReasonDeviceFault,
	ReasonOpenCircuit, ReasonShortCircuit, ReasonSettling, ReasonWarmingUp,
	ReasonPowerOnValue, ReasonStuck, ReasonUnderTest,
}

// String gives the reason in the few plain words that screens show.
func (r Reason) String() string {
	switch r {
	case ReasonNone:
		return ""
	case ReasonNotHeard:
		return "not heard yet"
	case ReasonSilent:
		return "silent"
	case ReasonUnplugged:
		return "unplugged"
	case ReasonNotANumber:
		return "sends no number"
	case ReasonOutOfRange:
		return "beyond belief"
	case ReasonOverRange:
		return "over range"
	case ReasonUnderRange:
		return "under range"
	case ReasonDeviceFault:
		return "device fault"
	case ReasonOpenCircuit:
		return "probe open"
	case ReasonShortCircuit:
		return "probe shorted"
	case ReasonSettling:
		return "settling"
	case ReasonWarmingUp:
		return "warming up"
	case ReasonPowerOnValue:
		return "power-on value"
	case ReasonStuck:
		return "stuck"
	case ReasonUnderTest:
		return "under test"
	default:
		return "unknown reason"
	}
}
