package hub

import (
	"fmt"
	"time"

	"simmerline/hub/record"
	"simmerline/rules"
)

// command passes a person's request to the engine.
func (l *loop) command(c rules.Command) (answer, error) {
	clk := l.h.options.Clock
	who := l.newReceipt()
	out, err := l.step(clk.Now(), clk.Wall(), input{rules: rules.Input{Command: &c}}, who)
	if err != nil {
		return answer{}, err
	}
	if len(out.announcements) == 0 { // put away twice: nothing to write, nothing to wait for
		close(who.written)
		close(who.synced)
	}
	got := answer{receipt: who}
	for _, a := range l.core.engine.View().Alarms {
		if a.Name == c.Alarm {
			got.alarm = a
		}
	}
	return got, nil
}

// startSession opens a session that began some time ago, even before this run.
func (l *loop) startSession(name string, since time.Duration, by string) (answer, error) {
	if open := l.core.session; open != nil {
		return answer{}, fmt.Errorf("hub: %w: %q, since %s; end it first, or mark the moment in it", ErrSessionOpen, open.Name, open.StartWall.Format("15:04"))
	}
	clk := l.h.options.Clock
	now, wall := clk.Now(), clk.Wall()
	s := Session{Session: record.Session{
		Name: name, Start: l.earlier.Back(l.core.moment(now), since), StartedHow: record.ByCommand, StartedBy: by,
	}}
	s.StartWall = l.wallAt(s.Start, now, wall)
	var out outcome
	l.core.open(&out, now, wall, s)
	who := l.newReceipt()
	l.keep(out, who)
	l.dirty = true
	return answer{session: *l.core.session, receipt: who}, nil
}

// wallAt is what the wall clock showed at a moment of this or an earlier run.
func (l *loop) wallAt(m record.Moment, now time.Duration, wall time.Time) time.Time {
	if m.Run == int64(l.core.run) {
		return wall.Add(m.At - now)
	}
	at, _ := l.earlier.Wall(m)
	return at.In(wall.Location())
}

func (l *loop) endSession(by string) (answer, error) {
	if l.core.session == nil {
		return answer{}, fmt.Errorf("hub: %w; 'session start' opens one", ErrNoSessionOpen)
	}
	clk := l.h.options.Clock
	var out outcome
	l.core.end(&out, clk.Now(), clk.Wall(), record.ByCommand, by)
	who := l.newReceipt()
	l.keep(out, who)
	l.dirty = true
	return answer{session: *out.closed, receipt: who}, nil
}

func (l *loop) mark(text, by string) (answer, error) {
	clk := l.h.options.Clock
	who := l.newReceipt()
	l.markAt(clk.Now(), clk.Wall(), text, by, who)
	return answer{receipt: who}, nil
}

func (l *loop) markAt(now time.Duration, wall time.Time, text, by string, who *receipt) {
	mark := record.Mark{Moment: l.core.moment(now), Text: text, By: by}
	if l.core.session != nil {
		mark.Session = l.core.session.ID
	}
	if _, err := l.h.options.Record.AddMark(mark, nil, nil); err != nil {
		l.h.options.Log.Warn("a mark could not be recorded", "mark", text, "error", err)
	}
	var out outcome
	l.core.announce(&out, now, wall, Announcement{Notice: l.core.notice(NoticeMark, by, text)})
	l.keep(out, who)
	l.dirty = true
}
