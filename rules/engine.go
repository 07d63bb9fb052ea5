package rules

import (
	"time"

	"simmerline/sensors"
)

// Engine holds the state of one bench's alarms. It is not safe for use by
// several goroutines at once; package doc says how to drive it.
type Engine struct {
	setup    Setup
	channels []*channelState
	byName   map[string]*channelState // looked up, never ranged over
	baths    []*bathState
	alarms   []*alarmState
	facts    Facts
	inUse    bool
	// darkUntold: the hub was dark while a bath was hot and nobody has
	// acknowledged it; darkFor is how long.
	darkUntold bool
	darkFor    time.Duration
	firstOut   int // alarms raised since none stood
	now        time.Duration
}

// New makes an engine for a bench whose alarms are all normal and whose
// readings are all unknown, at the offset at which the hub begins to listen.
// It refuses a setup that can't be run, naming every fault.
func New(setup Setup, now time.Duration) (*Engine, error) {
	rules, err := setup.merged()
	if err != nil {
		return nil, err
	}
	if setup.ReAlarmAfter == 0 {
		setup.ReAlarmAfter = 5 * time.Minute
	}
	e := &Engine{
		setup: setup, inUse: true, now: now,
		byName: make(map[string]*channelState),
		facts:  Facts{CanCall: true},
	}
	for _, c := range setup.Channels {
		if c.SilentAfter == 0 {
			c.SilentAfter = defaultSilentAfter
		}
		state := &channelState{Channel: c, since: now}
		e.channels = append(e.channels, state)
		e.byName[c.Name] = state
	}
	for _, b := range setup.Baths {
		var probes []*channelState
		for _, name := range b.Probes {
			probe := e.byName[name]
			probe.keep(probe.forecastOver())
			probes = append(probes, probe)
		}
		bath := newBath(b, probes)
		bath.update(now)
		e.baths = append(e.baths, bath)
	}
	for _, r := range rules {
		e.alarms = append(e.alarms, e.bind(r))
	}
	e.bindSuppression()
	return e, nil
}

// bind ties a rule to the channels and baths it looks at.
func (e *Engine) bind(r Rule) *alarmState {
	a := &alarmState{rule: r}
	for _, condition := range r.Any {
		c := &conditionState{Condition: condition}
		for _, b := range e.baths {
			if b.Name == condition.Bath && condition.Bath != "" {
				c.bath = b
			}
		}
		c.channel = e.byName[condition.Channel]
		for _, ch := range e.channels {
			if ch.Port == condition.Port && condition.Port != "" {
				c.port = append(c.port, ch)
			}
		}
		if c.bath != nil {
			for _, probe := range c.bath.probes {
				c.past(probe)
			}
		} else if c.channel != nil {
			c.past(c.channel)
		}
		a.conditions = append(a.conditions, c)
	}
	return a
}

// bindSuppression lets the loss of a port speak for the channels on it.
func (e *Engine) bindSuppression() {
	for _, a := range e.alarms {
		if len(a.conditions) != 1 || a.conditions[0].Kind != Lost {
			continue
		}
		for _, p := range e.alarms {
			if len(p.conditions) == 1 && p.conditions[0].Kind == PortLost &&
				p.conditions[0].Port == a.conditions[0].channel.Port && p.rule.speaksFor(a.rule) {
				a.coveredBy = p
			}
		}
	}
}

// speaksFor says whether one rule may silence another of the same cause: only
// if it calls as loudly, as soon and as openly, and lets go as soon.
func (r Rule) speaksFor(other Rule) bool {
	return r.Priority >= other.Priority && r.Class <= other.Class &&
		r.OnDelay <= other.OnDelay && r.OffDelay <= other.OffDelay &&
		(!r.WhileInUse || other.WhileInUse)
}

// Step takes the engine to this moment. It returns what happened to alarms, in
// order, and an error when the input's command was refused; everything else in
// the input has been taken in all the same. Each reading is judged by itself, in
// the order given: several in one step mean what they would in a step each.
func (e *Engine) Step(now time.Duration, in Input) ([]Event, error) {
	e.now = max(e.now, now)
	if in.Facts != nil {
		e.facts = *in.Facts
	}
	for _, p := range in.Ports {
		for _, c := range e.channels {
			if c.Port == p.Port {
				c.portChanged(p.Gone, e.now)
			}
		}
	}
	if in.Slept {
		e.slept()
	}
	step := &stepping{e: e, now: e.now}
	settled := false
	for _, r := range in.Readings {
		if c := e.byName[r.Channel]; c != nil {
			c.receive(r, e.now)
			step.settle()
			settled = true
		}
	}
	if in.Command != nil {
		e.updateBaths()
		err := step.command(*in.Command)
		step.settle()
		return step.events, err
	}
	if !settled {
		step.settle()
	}
	return step.events, nil
}

// slept takes note that the machine was suspended. What was heard before is no
// longer known, what was on its way to clear has lost its evidence, and nobody
// watched a bath that was hot.
func (e *Engine) slept() {
	for _, c := range e.channels {
		c.forget(e.now)
	}
	for _, a := range e.alarms {
		if a.active {
			a.holding = false
		}
	}
	if e.AnyHot() {
		e.darkUntold, e.darkFor = true, 0
	}
}

func (e *Engine) updateBaths() {
	for _, b := range e.baths {
		b.update(e.now)
	}
}

// Sounding is the highest priority among the alarms that sound after the last
// step, and PriorityUnspecified in silence. It is the one answer wanted before
// all others.
func (e *Engine) Sounding() Priority {
	loudest := PriorityUnspecified
	for _, a := range e.alarms {
		if a.state.Sounds() && a.rule.Priority >= Warning {
			loudest = max(loudest, a.rule.Priority)
		}
	}
	return loudest
}

// AnyHot says whether a bath is hot, as far as is known.
func (e *Engine) AnyHot() bool {
	for _, b := range e.baths {
		if b.hot {
			return true
		}
	}
	return false
}

// Now is the offset of the last step, or of the beginning before the first.
func (e *Engine) Now() time.Duration { return e.now }

// InUse says whether the bench is in use, not put away.
func (e *Engine) InUse() bool { return e.inUse }

// anyGas says whether a gas alarm's condition is true.
func (e *Engine) anyGas() bool {
	for _, a := range e.alarms {
		if a.rule.Class == FumeDanger && a.active {
			return true
		}
	}
	return false
}

func (e *Engine) anyRaised() bool {
	for _, a := range e.alarms {
		if a.active || a.state.Stands() {
			return true
		}
	}
	return false
}

// KeepsAway says whether nobody may be asked to go near the bench: fumes
// threaten now, or an alarm of the first two classes is latched and not reset.
func (e *Engine) KeepsAway() bool {
	for _, a := range e.alarms {
		if a.rule.Class.KeepsAway() && a.state.latched() {
			return true
		}
	}
	return e.fumesThreaten()
}

// fumesThreaten says whether an alarm of the first two classes has its condition
// true, be it shown or hidden, and its delay over or not.
func (e *Engine) fumesThreaten() bool {
	for _, a := range e.alarms {
		if a.rule.Class.KeepsAway() && (a.active || a.found == yes) {
			return true
		}
	}
	return false
}

// mayBePutAway says whether every bath is below HotAt: known by a trusted
// probe or, where there is none, by the word of the person who asks.
func (e *Engine) mayBePutAway(word string) error {
	for _, b := range e.baths {
		c, ok := b.reading.Value.Celsius()
		switch {
		case ok && b.reading.Quality != sensors.QualityBad && c >= HotAt:
			return refuse(ErrNotNow, "the bench can be put away when every bath is below %s, and %s is at %s", HotAt, b.Title(), c)
		case ok && b.reading.Quality == sensors.QualityGood && !b.orphaned, word != "":
		default:
			return refuse(ErrNotNow, "the bench can be put away when every bath is below %s, and %s has no trusted temperature (%s); where it is known by other means, say by which as the reason",
				HotAt, b.Title(), b.doubt())
		}
	}
	return nil
}

func (e *Engine) alarm(name string) *alarmState {
	for _, a := range e.alarms {
		if a.rule.Name == name {
			return a
		}
	}
	return nil
}
