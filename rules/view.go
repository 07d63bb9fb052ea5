package rules

import (
	"cmp"
	"slices"
	"strconv"
	"time"

	"simmerline/sensors"
)

// View is the state of a bench at one moment. It is a copy: nothing in it
// changes later.
type View struct {
	At          time.Duration
	Boiling     sensors.Celsius
	BoilingFrom string
	InUse       bool
	AnyHot      bool
	// Sounding is the highest priority among alarms that sound now, and
	// PriorityUnspecified in silence.
	Sounding Priority
	Advice   Advice
	Baths    []BathView
	Channels []ChannelView
	Alarms   []AlarmView // every alarm of the bench, in the order of its rules
}

// BathView is one bath at one moment.
type BathView struct {
	Bath
	// Reading is the one that governs: the highest good one of its probes.
	Reading sensors.Reading
	Age     time.Duration // since that reading arrived; negative when none has
	Hot     bool
	// Line is the danger setpoint, or the warning setpoint of a bath that has no
	// danger of its own; Whose says why it lies there.
	Line  sensors.Celsius
	Whose string
	// PerMinute is the change in kelvin a minute over the last ninety seconds;
	// HasTrend is false where that is not known.
	PerMinute float64
	HasTrend  bool
}

// InRange says whether the bath is in its working range; known is false where
// it has none or its temperature is not trusted.
func (b BathView) InRange() (in, known bool) {
	c, ok := b.Reading.Value.Celsius()
	if !ok || b.Reading.Quality != sensors.QualityGood || !b.HasRange() {
		return false, false
	}
	return c >= b.RangeLow && c <= b.RangeHigh, true
}

// ChannelView is one channel at one moment.
type ChannelView struct {
	Channel
	Reading sensors.Reading
	Age     time.Duration // since it was last heard; negative when never
	// Setpoints are the levels at or above which this channel raises an alarm,
	// from the lowest.
	Setpoints []Setpoint
}

// Setpoint is a level that raises an alarm when it is reached.
type Setpoint struct {
	Priority Priority
	Level    float64 // in the unit of the channel's quantity
	Whose    string  // whose setpoint it is, in words
}

// AlarmView is one alarm at one moment.
type AlarmView struct {
	Name      string
	State     State
	Active    bool // its condition, with its delays, is true
	Priority  Priority
	Class     Class
	Latching  bool
	Saying    Saying
	Whose     string
	Trigger   Trigger
	FirstOut  int
	RaisedAt  time.Duration
	ChangedAt time.Duration
	By, Why   string // who acknowledged, and their word
	// ClearsIn is how long the condition must stay false before the alarm
	// clears; 0 where it is not on its way to.
	ClearsIn time.Duration
}

// View gives the state of the bench as of the last step.
func (e *Engine) View() View {
	v := View{
		At: e.now, Boiling: e.setup.Boiling, BoilingFrom: e.setup.BoilingFrom,
		InUse: e.inUse, AnyHot: e.AnyHot(), Sounding: e.Sounding(), Advice: e.advice(),
		Baths:    e.Baths(),
		Channels: make([]ChannelView, 0, len(e.channels)),
		Alarms:   make([]AlarmView, 0, len(e.alarms)),
	}
	for _, c := range e.channels {
		v.Channels = append(v.Channels, ChannelView{
			Channel: c.Channel, Reading: c.judged(e.now), Age: c.age(e.now), Setpoints: e.setpoints(c.Name),
		})
	}
	away := e.KeepsAway()
	for _, a := range e.alarms {
		v.Alarms = append(v.Alarms, e.alarmView(a, away))
	}
	return v
}

// Baths gives the part of View that is about baths.
func (e *Engine) Baths() []BathView {
	baths := make([]BathView, 0, len(e.baths))
	for _, b := range e.baths {
		baths = append(baths, e.bathView(b))
	}
	return baths
}

// neverHeard is the age of what has not been heard at all.
const neverHeard = time.Duration(-1)

func (c *channelState) age(now time.Duration) time.Duration {
	if !c.heard {
		return neverHeard
	}
	return now - c.latest.At
}

func (e *Engine) bathView(b *bathState) BathView {
	v := BathView{Bath: b.Bath, Reading: b.reading, Age: neverHeard, Hot: b.hot}
	if len(b.probes) > 0 {
		v.Age = b.probes[b.speaker].age(e.now)
	}
	v.Line, v.Whose = e.line(b)
	if b.reading.Quality == sensors.QualityGood && !b.orphaned {
		probe := b.probes[b.speaker]
		if part, covered := probe.keep(probe.forecastOver()).recent(e.now, 0.3); covered {
			v.PerMinute, _, _ = slope(part)
			v.HasTrend = true
		}
	}
	return v
}

// line finds the setpoint at which a bath is too hot, as its rules now have it.
func (e *Engine) line(b *bathState) (sensors.Celsius, string) {
	for _, name := range []string{b.Name + "-danger", b.Name + "-warning"} {
		if a := e.alarm(name); a != nil && a.conditions[0].Kind == Above {
			return sensors.Celsius(a.conditions[0].Setpoint), a.rule.Whose
		}
	}
	return BathLine(b.Kind, e.setup.Boiling)
}

// setpoints finds the levels at which a channel alarms by itself. Alarms that
// need something more, as a hot bath beside it, are not among them.
func (e *Engine) setpoints(channel string) []Setpoint {
	var found []Setpoint
	for _, a := range e.alarms {
		for _, c := range a.conditions {
			if c.Kind == Above && c.Channel == channel {
				found = append(found, Setpoint{Priority: a.rule.Priority, Level: c.Setpoint, Whose: a.rule.Whose})
			}
		}
	}
	slices.SortStableFunc(found, func(a, b Setpoint) int { return cmp.Compare(a.Level, b.Level) })
	return found
}

func (e *Engine) alarmView(a *alarmState, away bool) AlarmView {
	v := AlarmView{
		Name: a.rule.Name, State: a.state, Active: a.active, Priority: a.rule.Priority,
		Class: a.rule.Class, Latching: a.rule.Latching, Saying: e.says(a, away),
		Whose: a.rule.Whose, Trigger: a.trigger, FirstOut: a.firstOut,
		RaisedAt: a.raisedAt, ChangedAt: a.changedAt, By: a.ackBy, Why: a.ackWhy,
	}
	if a.active && a.holding {
		v.ClearsIn = a.rule.OffDelay - (e.now - a.heldSince)
	}
	return v
}

func itoa(n int) string { return strconv.Itoa(n) }
