package hub

import (
	"fmt"
	"slices"
	"time"

	"simmerline/hub/bench"
	"simmerline/hub/record"
	"simmerline/rules"
	"simmerline/sensors"
)

// slowly is how often sessions and working ranges are looked at.
const slowly = time.Second

// core is all that the hub knows, and how it moves on. It is pure like the
// engine inside it: time comes in as an argument. The loop owns it.
type core struct {
	bench    *bench.Bench
	engine   *rules.Engine
	ports    []sensors.PortStatus
	tracker  *sessionTracker
	inRange  []rangeWatch
	session  *Session
	lastID   int64 // the highest session number in use
	run      uint64
	sequence uint64
	inUse    bool
	slowAt   time.Duration // when what needs no more than a look a second was last looked at
	start    StartNotice
}

// now is the offset of the core's last step.
func (c *core) now() time.Duration { return c.engine.Now() }

// input is what reaches the core in one step.
type input struct {
	rules  rules.Input
	status *sensors.PortStatus
}

// outcome is what a step led to.
type outcome struct {
	sounding      rules.Priority
	chime         bool // a bath has come into its range: a soft tone, once
	announcements []Announcement
	opened        *Session // a session that was opened in this step
	closed        *Session // one that was ended
}

func newCore(b *bench.Bench, now time.Duration) (*core, error) {
	engine, err := rules.New(b.Setup, now)
	if err != nil {
		return nil, err
	}
	c := &core{
		bench: b, engine: engine, tracker: newSessionTracker(), inUse: true,
		inRange: make([]rangeWatch, len(b.Setup.Baths)),
	}
	for _, p := range b.Ports {
		c.ports = append(c.ports, sensors.PortStatus{Port: p.Name, Since: now})
	}
	return c, nil
}

// step takes the core to this moment. The error is that of a refused command.
func (c *core) step(now time.Duration, wall time.Time, in input) (outcome, error) {
	if in.status != nil {
		c.portSays(*in.status, &in.rules)
	}
	events, refused := c.engine.Step(now, in.rules)
	out := outcome{sounding: c.engine.Sounding()}
	for i := range events {
		c.announce(&out, now, wall, Announcement{Alarm: &events[i]})
	}
	if c.engine.InUse() != c.inUse {
		c.inUse = c.engine.InUse()
		c.announce(&out, now, wall, Announcement{Notice: useNotice(c.inUse, in.rules.Command)})
	}
	if now-c.slowAt >= slowly {
		c.slowAt = now
		baths := c.engine.Baths()
		c.comeIntoRange(&out, now, wall, baths)
		c.sessions(&out, now, wall, baths)
	}
	return out, refused
}

// comeIntoRange tells of baths that have settled in their working range. That
// calls people to the bench, so it waits while the fumes may be dangerous.
func (c *core) comeIntoRange(out *outcome, now time.Duration, wall time.Time, baths []rules.BathView) {
	for i, b := range baths {
		if !c.inRange[i].due(now, b) || c.engine.KeepsAway() {
			continue
		}
		c.inRange[i].told()
		n := c.notice(NoticeInRange, "", fmt.Sprintf("%s is in its working range, at %s.",
			b.Title(), c.bench.Units.Temperature(celsius(b.Reading))))
		n.Bath = b.Name
		c.announce(out, now, wall, Announcement{Notice: n})
		out.chime = true
	}
}

func celsius(r sensors.Reading) sensors.Celsius {
	t, _ := r.Value.Celsius()
	return t
}

// portSays takes in what a port says of itself, and tells the engine when that
// means that its channels have gone.
func (c *core) portSays(status sensors.PortStatus, in *rules.Input) {
	i := slices.IndexFunc(c.ports, func(p sensors.PortStatus) bool { return p.Port == status.Port })
	if i < 0 {
		return
	}
	was, is := c.ports[i].State, status.State
	c.ports[i] = status
	if was == sensors.PortOpen && is != sensors.PortOpen {
		in.Ports = append(in.Ports, rules.PortChange{Port: status.Port, Gone: true})
	}
}

// announce numbers something that clients must not miss.
func (c *core) announce(out *outcome, now time.Duration, wall time.Time, a Announcement) {
	c.sequence++
	a.Sequence, a.Run, a.At, a.Wall = c.sequence, c.run, now, wall
	out.announcements = append(out.announcements, a)
}

func (c *core) notice(kind NoticeKind, by, text string) *Notice {
	n := &Notice{Kind: kind, By: by, Text: text}
	if c.session != nil {
		n.Session = uint64(c.session.ID)
	}
	return n
}

func useNotice(inUse bool, command *rules.Command) *Notice {
	n := &Notice{Kind: NoticePutAway, Text: "The bench is put away: its sensors call nobody until a bath warms or gas is found."}
	if inUse {
		n = &Notice{Kind: NoticeTakenIntoUse, Text: "The bench is in use."}
		if command == nil {
			n.Text = "The bench is in use again by itself: a bath is hot, or gas was found."
		}
	}
	if command != nil {
		n.By = command.By
	}
	if command != nil && command.Why != "" {
		n.Text += " On " + command.By + "'s word: " + command.Why
	}
	return n
}

// sessions opens or ends a session by itself where that is due.
func (c *core) sessions(out *outcome, now time.Duration, wall time.Time, baths []rules.BathView) {
	begin, from, end := c.tracker.update(now, baths)
	switch {
	case begin && c.session == nil:
		c.open(out, now, wall, Session{
			Session:   record.Session{Start: c.moment(from), StartedHow: record.ByItself},
			StartWall: wall.Add(from - now),
		})
	case end && c.session != nil:
		c.end(out, now, wall, record.ByItself, "")
	}
}

func (c *core) moment(at time.Duration) record.Moment {
	return record.Moment{Run: int64(c.run), At: at}
}

// open opens a session that may have begun earlier.
func (c *core) open(out *outcome, now time.Duration, wall time.Time, s Session) {
	c.lastID++
	s.ID = c.lastID
	if s.Name == "" {
		s.Name = s.StartWall.Format("2006-01-02 15:04")
	}
	c.session = &s
	out.opened = &s
	c.tracker.rebase(s.StartedHow == record.ByItself)
	text := fmt.Sprintf("Session %q began at %s because a bath warms.", s.Name, s.StartWall.Format("15:04"))
	if s.StartedHow == record.ByCommand {
		text = fmt.Sprintf("%s started session %q, from %s on.", s.StartedBy, s.Name, s.StartWall.Format("15:04"))
	}
	c.announce(out, now, wall, Announcement{Notice: c.notice(NoticeSessionStarted, s.StartedBy, text)})
}

// end ends the open session at this moment.
func (c *core) end(out *outcome, now time.Duration, wall time.Time, how record.How, by string) {
	s := *c.session
	s.End, s.EndWall, s.EndedHow, s.EndedBy = c.moment(now), wall, how, by
	text := fmt.Sprintf("Session %q has ended: every bath is cool.", s.Name)
	if how == record.ByCommand {
		text = fmt.Sprintf("%s ended session %q.", by, s.Name)
	}
	c.announce(out, now, wall, Announcement{Notice: c.notice(NoticeSessionEnded, by, text)})
	c.session, out.closed = nil, &s
	c.tracker.rebase(false)
}

// protection says whether the bench is watched over as its file asks.
func protection(view rules.View) Protection {
	p := Protection{Complete: true}
	gas := false
	for _, ch := range view.Channels {
		if ch.Quantity != sensors.GasLevel {
			continue
		}
		gas = true
		if r := ch.Reading; r.Quality != sensors.QualityGood && r.Reason != sensors.ReasonOverRange {
			p.Missing = append(p.Missing, ch.Title()+" "+r.Reason.String())
			if r.Reason == sensors.ReasonWarmingUp {
				p.ReadyIn = max(p.ReadyIn, r.ReadyAt-view.At)
			}
		}
	}
	if !gas {
		p.Missing = append(p.Missing, "no fume head on this bench")
	}
	for _, b := range view.Baths {
		if b.Kind == rules.BathSulfide && b.Reading.Quality != sensors.QualityGood {
			p.Missing = append(p.Missing, b.Title()+" "+b.Reading.Reason.String())
		}
	}
	p.Complete = len(p.Missing) == 0
	return p
}
