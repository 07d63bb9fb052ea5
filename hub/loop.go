package hub

import (
	"context"
	"errors"
	"time"

	"simmerline/hub/notify"
	"simmerline/hub/record"
	"simmerline/rules"
	"simmerline/sensors"
)

// The pace of the loop.
const (
	tickEvery      = 250 * time.Millisecond // on the hub's clock: delays end, silence is noticed
	heartbeatEvery = time.Second            // real time
	publishEvery   = 100 * time.Millisecond // real time, between states without events
	saveEvery      = time.Minute            // on the hub's clock
)

// loop owns everything that changes. Only its own goroutine touches it once
// Run has begun.
type loop struct {
	h         *Hub
	core      *core
	announcer announcer
	watchers  map[*Watcher]struct{}
	clockWork clockWatch
	earlier   record.Timeline // the runs before this one, and this one's beginning
	// firstOfRun is the number of this run's first announcement.
	firstOfRun uint64

	dirty     bool      // something has changed since the last state was published
	published time.Time // real time
	facts     rules.Facts
	savedAt   time.Duration
	hot       bool
	sounding  rules.Priority // as the sounder was last told
}

func newLoop(h *Hub) (*loop, error) {
	begin := h.options.Clock.Now()
	if h.options.Earlier != nil {
		begin = h.options.Earlier.From
	}
	core, err := newCore(h.options.Bench, begin)
	if err != nil {
		return nil, err
	}
	return &loop{
		h: h, core: core, watchers: make(map[*Watcher]struct{}),
		clockWork: newClockWatch(h.options.Clock), facts: rules.Facts{CanCall: true},
	}, nil
}

func (l *loop) run(ctx context.Context) {
	clk := l.h.options.Clock
	tick := clk.NewTimer(tickEvery)
	defer func() { tick.Stop() }()
	heartbeat := time.NewTicker(heartbeatEvery)
	defer heartbeat.Stop()
	held := time.NewTimer(time.Hour)
	defer held.Stop()
	l.publish() // duty 4: before anything new can be held back
	l.tick()
	for {
		l.h.beat.Store(int64(time.Since(l.h.born)) + 1)
		if at, waits := l.announcer.nextDeadline(); waits {
			held.Reset(time.Until(at))
		} else if l.dirty {
			held.Reset(publishEvery - time.Since(l.published))
		}
		select {
		case <-ctx.Done():
			l.stop(ctx)
			return
		case b := <-l.h.batches:
			l.batch(b)
		case r := <-l.h.requests:
			got, err := r.do(l)
			r.result <- result{got, err}
		case s := <-l.h.settled:
			l.announcer.settle(s)
		case <-tick.C():
			tick = clk.NewTimer(tickEvery)
			l.tick()
		case <-heartbeat.C:
			l.beat()
		case <-held.C:
		}
		l.tell()
	}
}

// batch takes in what a port has to say.
func (l *loop) batch(b sensors.Batch) {
	in := input{rules: rules.Input{Readings: b.Readings}, status: b.Status}
	_, _ = l.step(l.h.options.Clock.Now(), l.h.options.Clock.Wall(), in, nil)
	l.h.options.Record.AddReadings(readingRows(b.Readings))
}

// step moves the core on and does its duties in the order the package promises.
func (l *loop) step(now time.Duration, wall time.Time, in input, who *receipt) (outcome, error) {
	out, err := l.core.step(now, wall, in)
	l.sound(out)
	l.keep(out, who)
	l.dirty = true
	return out, err
}

// sound tells the sounder, first of all.
func (l *loop) sound(out outcome) {
	if out.sounding != l.sounding {
		l.sounding = out.sounding
		l.h.options.Sounder.Set(levelOf(out.sounding))
	}
	if out.chime && levelOf(out.sounding) == notify.Silence {
		l.h.options.Sounder.Set(notify.Notice)
	}
}

func levelOf(p rules.Priority) notify.Level {
	switch p {
	case rules.Danger:
		return notify.Danger
	case rules.Warning:
		return notify.Warning
	default:
		return notify.Silence
	}
}

// keep hands the record what must not be lost, and puts it in line to be told.
// A session goes before the word of it, and the state of the alarms with the
// last word, so that an answer about that is true of all.
func (l *loop) keep(out outcome, who *receipt) {
	for _, s := range []*Session{out.opened, out.closed} {
		if s != nil {
			l.keepSession(*s)
		}
	}
	for i, a := range out.announcements {
		l.announcer.add(a, time.Now())
		if i < len(out.announcements)-1 {
			l.keepAnnouncement(a, nil)
		} else {
			l.keepAnnouncement(a, who, l.state()...)
		}
	}
}

// tick ends delays, notices silence and clock steps, and keeps the facts that
// the rules need up to date.
func (l *loop) tick() {
	clk := l.h.options.Clock
	now, wall := clk.Now(), clk.Wall()
	in := input{}
	l.watchClock(&in, now, wall)
	if facts := l.findFacts(); facts != l.facts {
		l.facts = facts
		in.rules.Facts = &facts
	}
	_, _ = l.step(now, wall, in, nil)
	l.h.options.Record.Alive(now)
	if hot := l.core.engine.AnyHot(); hot != l.hot {
		l.hot = hot
		l.h.options.Record.SetHot(hot)
		l.saveState()
	}
	if now-l.savedAt >= saveEvery {
		l.saveState()
	}
}

// findFacts is what the hub knows of itself.
func (l *loop) findFacts() rules.Facts {
	sound := l.h.options.Sounder.State()
	facts := rules.Facts{CanCall: sound.CanSound || !sound.Checked || l.stations() > 0}
	facts.RecordFails = l.recordFails(l.h.options.Record.Health())
	return facts
}

func (l *loop) stations() int {
	n := 0
	for w := range l.watchers {
		if w.calls(time.Now()) {
			n++
		}
	}
	return n
}

// tell announces what is due, then publishes the state if it may.
func (l *loop) tell() {
	if due := l.announcer.due(time.Now()); len(due) > 0 {
		for w := range l.watchers {
			w.offer(Update{Announcements: due})
		}
		l.publishNow()
		return
	}
	if l.dirty && time.Since(l.published) >= publishEvery {
		l.publishNow()
	}
}

// publishNow publishes the state, unless it includes an announcement that is
// still held back.
func (l *loop) publishNow() {
	if _, waits := l.announcer.nextDeadline(); !waits {
		l.publish()
	}
}

func (l *loop) publish() {
	s := l.snapshot()
	l.h.latest.Store(s)
	for w := range l.watchers {
		w.offer(Update{State: s})
	}
	l.dirty, l.published = false, time.Now()
}

func (l *loop) beat() {
	for w := range l.watchers {
		w.offer(Update{Heartbeat: true})
	}
}

// stop tells everybody and leaves the record in order.
func (l *loop) stop(ctx context.Context) {
	l.h.options.Sounder.Set(notify.Silence)
	if errors.Is(context.Cause(ctx), ErrPowerCut) {
		l.end(ErrPowerCut)
		return
	}
	l.saveState()
	if err := l.h.options.Record.EndRun(l.h.options.Clock.Now()); err != nil {
		l.h.options.Log.Warn("the end of this run could not be recorded", "error", err)
	}
	for _, w := range l.announcer.waiting {
		for watcher := range l.watchers {
			watcher.offer(Update{Announcements: []Announcement{w.announcement}})
		}
	}
	l.end(ErrStopping)
}

func (l *loop) end(reason error) {
	for w := range l.watchers {
		w.end(reason)
	}
}
