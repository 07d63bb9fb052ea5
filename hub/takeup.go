package hub

import (
	"context"
	"errors"
	"fmt"
	"time"

	"simmerline/hub/record"
	"simmerline/rules"
	"simmerline/sensors"
)

const (
	// briefly is how long the hub may be off, if it was stopped on purpose,
	// without anybody needing to look at the hot plate.
	briefly = 10 * time.Second
	// sessionBridges is how long a session may be interrupted and still go on.
	sessionBridges = 30 * time.Minute
	// drainWithin is how long a hub with a past waits for the disk, each time.
	drainWithin = 5 * time.Second
)

// takeUp begins a run and takes up what the last one left: alarms, the open
// session, and what it means that no hub was running.
func (l *loop) takeUp(ctx context.Context) error {
	o := l.h.options
	now, wall := o.Clock.Now(), o.Clock.Wall()
	run, previous, err := o.Record.Begin(record.RunInfo{
		Wall: wall.Add(-now), BenchText: string(o.Bench.Text), Software: o.Software,
	})
	if err != nil {
		return err
	}
	if l.earlier, err = o.Record.Timeline(ctx); err != nil {
		return err
	}
	sessions, err := o.Record.Sessions(ctx)
	if err != nil {
		return err
	}
	for _, s := range sessions {
		l.core.lastID = max(l.core.lastID, s.ID)
	}
	l.core.run, l.core.sequence = uint64(run.ID), uint64(previous.LastSequence)
	l.firstOfRun = l.core.sequence + 1
	start := l.core.now()
	startWall := wall.Add(start - now)
	l.core.start = startNotice(previous, startWall, o.Record.SetAside() != "" || o.RecordFails != "")
	if l.core.start.After {
		l.restoreAlarms(previous)
	}
	var out outcome
	l.core.announce(&out, start, startWall, Announcement{Notice: l.core.notice(NoticeStarted, "", startText(l.core.start))})
	l.takeUpSession(&out, previous, start, startWall)
	l.past(out)
	if o.Earlier == nil {
		return nil
	}
	if err := o.Earlier.Play(&Past{l: l, zero: wall.Add(-now)}); err != nil {
		return fmt.Errorf("the earlier minutes: %w", err)
	}
	return l.drain(ctx)
}

// startNotice says what it means that no hub ran until now. lost: the record of
// the runs before is, so that nothing is known of them.
func startNotice(previous record.Previous, wall time.Time, lost bool) StartNotice {
	if previous.Run.ID == 0 {
		return StartNotice{After: lost, Means: startMeans(StartNotice{After: lost}, "the record of it can't be used")}
	}
	n := StartNotice{After: true, Clean: previous.Run.Clean}
	last := previous.LastWall.In(wall.Location())
	how := "the clock has been set back since"
	if dark := wall.Sub(last); dark > -clockSlack {
		n.Dark = max(dark, 1)
		how = "from " + last.Format("15:04")
	}
	n.Means = startMeans(n, how)
	return n
}

// startMeans puts a start into a sentence. how says when the dark began, or why
// its length is unknown.
func startMeans(n StartNotice, how string) string {
	if !n.After {
		return ""
	}
	means := fmt.Sprintf("The hub was off for %s, %s", rules.InWords(n.Dark), how)
	if n.Dark == 0 {
		means = "The hub was off for an unknown time, since " + how
	}
	if n.Clean {
		means += ", after it was stopped on purpose."
	} else {
		means += ": its power may have failed."
	}
	if !n.Clean || n.long() {
		means += " Nothing was measured and nobody was called in that time."
	}
	if !n.Clean {
		means += " A hot plate that was on may be on again."
	}
	return means
}

// long says whether the hub was off for long, as far as is known.
func (n StartNotice) long() bool { return n.Dark == 0 || n.Dark > briefly }

func startText(n StartNotice) string {
	if n.Means == "" {
		return "The hub has started, with a new record."
	}
	return "The hub has started. " + n.Means
}

// restoreAlarms takes up how the alarms stood. Where that is not known it is
// told, and the engine takes it that a bath was hot.
func (l *loop) restoreAlarms(previous record.Previous) {
	start := &l.core.start
	age, dark := start.Dark, max(start.Dark, 1) // of unknown length is no reason for silence
	if start.Clean && !start.long() {
		dark = 0
	}
	var state []byte
	if previous.State != nil {
		state = previous.State.JSON
		if previous.State.Run == previous.Run.ID {
			age += max(0, previous.Run.Last-previous.State.At)
		}
	}
	dropped, err := l.core.engine.Restore(state, age, dark)
	if err != nil {
		start.Means += " The alarms of before could not be taken up."
		l.h.options.Log.Error("the alarms of the last run could not be taken up", "error", err)
	}
	l.core.inUse = l.core.engine.InUse()
	for _, name := range dropped {
		l.h.options.Log.Warn("an alarm of the last run has no rule any more", "alarm", name)
	}
}

// takeUpSession lets an open session go on over a short interruption, and ends
// it where the interruption was long. Either is told.
func (l *loop) takeUpSession(out *outcome, previous record.Previous, now time.Duration, wall time.Time) {
	open := previous.OpenSession
	if open == nil {
		return
	}
	s := Session{Session: *open}
	s.StartWall = l.wallAt(open.Start, now, wall)
	l.core.session = &s
	l.core.tracker.rebase(true) // whether a bath was warm in it is no longer known
	if l.core.start.Dark <= sessionBridges {
		interruption := "an interruption of " + rules.InWords(l.core.start.Dark)
		if l.core.start.Dark == 0 {
			interruption = "an interruption of unknown length"
		}
		text := fmt.Sprintf("Session %q goes on over %s.", s.Name, interruption)
		l.core.announce(out, now, wall, Announcement{Notice: l.core.notice(NoticeGap, "", text)})
		return
	}
	l.core.end(out, now, wall, record.ByPowerLoss, "")
	out.closed.End = record.Moment{Run: previous.Run.ID, At: previous.Run.Last}
	out.closed.EndWall = previous.LastWall.In(wall.Location())
	last := out.announcements[len(out.announcements)-1].Notice
	last.Text = fmt.Sprintf("Session %q ended when the hub went off, at %s.", s.Name, out.closed.EndWall.Format("15:04"))
}

// Earlier lets a demo have a past: Play is called once, before the loop begins,
// and goes through it in order of time from From on.
type Earlier struct {
	From time.Duration
	Play func(*Past) error
}

// Past takes what happened before now, in order of time.
type Past struct {
	l      *loop
	zero   time.Time // the wall clock at offset 0
	queued int
}

// Batch takes what a port said at an offset before now.
func (p *Past) Batch(b sensors.Batch) error {
	if err := p.step(b.At, input{rules: rules.Input{Readings: b.Readings}, status: b.Status}); err != nil {
		return err
	}
	p.l.h.options.Record.AddReadings(readingRows(b.Readings))
	return p.pace(len(b.Readings))
}

// Tick lets delays end and silence be noticed at an offset before now.
func (p *Past) Tick(at time.Duration) error { return p.step(at, input{}) }

// Command is a person's request at an offset before now.
func (p *Past) Command(at time.Duration, c rules.Command) error {
	return p.step(at, input{rules: rules.Input{Command: &c}})
}

// View is the state of the bench as of the last step.
func (p *Past) View() rules.View { return p.l.core.engine.View() }

// Mark is a person's mark at an offset before now.
func (p *Past) Mark(at time.Duration, text, by string) {
	p.l.markAt(at, p.zero.Add(at), text, by, nil)
}

func (p *Past) step(at time.Duration, in input) error {
	out, err := p.l.core.step(at, p.zero.Add(at), in)
	p.l.past(out)
	return err
}

// pace waits for the record now and then, so that none of the past is dropped.
func (p *Past) pace(readings int) error {
	if p.queued += readings; p.queued < 4096 {
		return nil
	}
	p.queued = 0
	return p.l.drain(context.Background())
}

// errOfThePast settles what nobody waits for before the record has its say.
var errOfThePast = errors.New("hub: announced before it was written")

// past keeps what happened before the loop began; nothing of it sounds.
func (l *loop) past(out outcome) {
	l.keep(out, nil)
	for _, a := range out.announcements {
		l.announcer.settle(settled{a.Sequence, errOfThePast})
	}
	l.announcer.due(time.Now())
}

// drain waits until the record has written all it was given, so that none of
// the past is dropped. A disk that fails or hangs does not keep the hub from
// beginning: that comes to be an alarm.
func (l *loop) drain(ctx context.Context) error {
	done := make(chan error, 1)
	if err := l.h.options.Record.Add(func(err error) { done <- err }, nil, l.state()...); err != nil {
		done <- err
	}
	limit := time.NewTimer(drainWithin)
	defer limit.Stop()
	for {
		select {
		case err := <-done:
			if err != nil {
				l.h.options.Log.Error("what was before could not be recorded", "error", err)
			}
			return nil
		case <-limit.C:
			l.h.options.Log.Error("the disk is slow to take what was before; the hub does not wait for it")
			return nil
		case s := <-l.h.settled:
			l.announcer.settle(s)
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}
