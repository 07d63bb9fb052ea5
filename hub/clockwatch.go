package hub

import (
	"fmt"
	"time"

	"simmerline/hub/record"
	"simmerline/sensors/clock"
)

// clockSlack is how far clocks may part before it is told.
const clockSlack = 2 * time.Second

// clockWatch compares the clocks that should go side by side.
type clockWatch struct {
	boot time.Duration // since-boot less monotonic, as of the last look
	wall time.Time     // what the wall clock would show at offset 0
}

func newClockWatch(c clock.Clock) clockWatch {
	now, boot, wall := together(c)
	return clockWatch{boot: boot - now, wall: wall.Add(-now)}
}

// together reads the clocks as near to one moment as can be: a process that is
// halted between two looks would else take the halt for a sleep.
func together(c clock.Clock) (now, boot time.Duration, wall time.Time) {
	for range 10 {
		now = c.Now()
		boot, wall = c.SinceBoot(), c.Wall()
		if c.Now()-now < clockSlack/4 {
			break
		}
	}
	return now, boot, wall
}

// look says how long the machine slept since the last look, and how far the
// wall clock was moved beyond that; 0 where neither happened.
func (w *clockWatch) look(c clock.Clock) (slept, stepped time.Duration) {
	now, boot, wall := together(c)
	if d := boot - now - w.boot; d > clockSlack {
		slept = d
		w.boot += d
	}
	if d := wall.Add(-now).Sub(w.wall); (d - slept).Abs() > clockSlack {
		stepped = d - slept
		w.wall = w.wall.Add(d)
	} else if slept > 0 {
		w.wall = w.wall.Add(d)
	}
	return slept, stepped
}

// watchClock notes suspends and steps of the wall clock. After a suspend
// nothing that was heard before is known any more.
func (l *loop) watchClock(in *input, now time.Duration, wall time.Time) {
	slept, stepped := l.clockWork.look(l.h.options.Clock)
	note := func(kind record.ClockKind, notice NoticeKind, text string) {
		row := &record.ClockNote{Moment: l.core.moment(now), Kind: kind, Wall: wall, Detail: text}
		if err := l.h.options.Record.Add(nil, nil, row); err != nil {
			l.h.options.Log.Warn("a clock note could not be recorded", "note", text, "error", err)
		}
		var out outcome
		l.core.announce(&out, now, wall, Announcement{Notice: l.core.notice(notice, "", text)})
		l.keep(out, nil)
	}
	if slept > 0 {
		in.rules.Slept = true
		note(record.ClockSlept, NoticeGap, fmt.Sprintf("This machine slept for %s: nothing was measured and nobody could be called.", slept.Round(time.Second)))
	}
	if stepped != 0 {
		way := "forward"
		if stepped < 0 {
			way = "back"
		}
		note(record.ClockStepped, NoticeClockStepped, fmt.Sprintf("The clock was set %s by %s; delays and alarms are not touched by it.", way, stepped.Abs().Round(time.Second)))
	}
}
