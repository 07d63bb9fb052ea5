package hub

import (
	"errors"
	"math"
	"time"

	"simmerline/hub/record"
	"simmerline/rules"
	"simmerline/sensors"
)

// errPassing says that what was written is not in the record that was wanted.
var errPassing = errors.New("hub: written to a passing record only")

// keepAnnouncement hands one announcement to the record, with what belongs to
// it. The record answers through settled, and through the receipt where
// somebody waits.
func (l *loop) keepAnnouncement(a Announcement, who *receipt, with ...record.Entry) {
	written := func(err error) {
		if who != nil && err == nil {
			close(who.written)
		}
		if l.h.options.RecordFails != "" {
			err = errPassing
		}
		select {
		case l.h.settled <- settled{a.Sequence, err}:
		case <-l.h.done:
		}
	}
	synced := func(err error) {
		if who != nil && err == nil {
			close(who.synced)
		}
	}
	event := eventRow(a)
	if err := l.h.options.Record.Add(written, synced, append([]record.Entry{&event}, with...)...); err != nil {
		l.announcer.settle(settled{a.Sequence, err})
	}
}

// readingRows are readings as the record keeps them.
func readingRows(readings []sensors.Reading) []record.Reading {
	rows := make([]record.Reading, len(readings))
	for i, r := range readings {
		rows[i].Reading = r
	}
	return rows
}

// eventRow is an announcement as the record keeps it. A notice has no alarm:
// its kind stands as the cause, and its bath as the subject.
func eventRow(a Announcement) record.Event {
	row := record.Event{
		Sequence: int64(a.Sequence), Moment: record.Moment{Run: int64(a.Run), At: a.At}, Number: math.NaN(),
	}
	if n := a.Notice; n != nil {
		row.Cause, row.Subject, row.Sentence, row.By = n.Kind.String(), n.Bath, n.Text, n.By
		return row
	}
	e := a.Alarm
	row.Alarm, row.From, row.To, row.Cause = e.Alarm, e.From.String(), e.To.String(), e.Cause.String()
	row.Priority, row.Class, row.Subject = int(e.Priority), int(e.Class), e.Subject
	row.Channel, row.Sentence, row.By, row.Why = e.Trigger.Channel, e.Sentence, e.By, e.Why
	if v := e.Trigger.Value; v.Known() {
		row.Number, row.Unit, row.Value = v.Number(), v.Quantity().Unit(), v.String()
	} else if e.Trigger.Reason != sensors.ReasonNone {
		row.Value = e.Trigger.Reason.String()
	}
	return row
}

// announcementOf is eventRow's way back, for clients that missed more than
// memory holds. What the record does not keep is left out.
func announcementOf(row record.Event, wall time.Time) Announcement {
	a := Announcement{
		Sequence: uint64(row.Sequence), Run: uint64(row.Run), At: row.At, Wall: wall, Recorded: RecordedWritten,
	}
	if row.Alarm == "" {
		a.Notice = &Notice{Text: row.Sentence, By: row.By, Bath: row.Subject}
		for _, k := range NoticeKinds {
			if k.String() == row.Cause {
				a.Notice.Kind = k
			}
		}
		return a
	}
	e := &rules.Event{
		At: row.At, Alarm: row.Alarm, Priority: rules.Priority(row.Priority), Class: rules.Class(row.Class),
		Subject: row.Subject, Sentence: row.Sentence, By: row.By, Why: row.Why,
		Trigger: rules.Trigger{Channel: row.Channel},
	}
	e.From, _ = rules.ParseState(row.From)
	e.To, _ = rules.ParseState(row.To)
	for _, c := range rules.Causes {
		if c.String() == row.Cause {
			e.Cause = c
		}
	}
	for q := sensors.Temperature; q <= sensors.Pressure; q++ {
		if q.Unit() == row.Unit && row.Unit != "" && !math.IsNaN(row.Number) {
			e.Trigger.Value, _ = sensors.NewValue(q, row.Number)
		}
	}
	a.Alarm = e
	return a
}

// keepSession hands the record the beginning or the end of a session.
func (l *loop) keepSession(s Session) {
	if s.Open() {
		id, err := l.h.options.Record.StartSession(s.Session, nil, nil)
		if err != nil || id != s.ID {
			l.h.options.Log.Error("the session could not be recorded", "session", s.Name, "number", s.ID, "recorded as", id, "error", err)
		}
		return
	}
	end := &record.SessionEnd{ID: s.ID, End: s.End, How: s.EndedHow, By: s.EndedBy}
	if err := l.h.options.Record.Add(nil, nil, end); err != nil {
		l.h.options.Log.Error("the session's end could not be recorded", "session", s.Name, "error", err)
	}
}

// state is what must outlive the process, as the record keeps it; none where it
// can't be told.
func (l *loop) state() []record.Entry {
	now := l.core.now() // which the ages in it are counted from
	l.savedAt = now
	data, err := l.core.engine.Saved()
	if err != nil {
		l.h.options.Log.Error("the alarms' state can't be written down", "error", err)
		return nil
	}
	return []record.Entry{&record.State{Moment: l.core.moment(now), JSON: data}}
}

// saveState keeps what must outlive the process.
func (l *loop) saveState() {
	if err := l.h.options.Record.Add(nil, nil, l.state()...); err != nil {
		l.h.options.Log.Warn("the alarms' state could not be recorded", "error", err)
	}
}

// snapshot is the state of this moment.
func (l *loop) snapshot() *Snapshot {
	o := l.h.options
	view := l.core.engine.View()
	health := o.Record.Health()
	fails := l.recordFails(health)
	s := &Snapshot{
		Bench: o.Bench.Name, Fahrenheit: o.Bench.Units != 0, Run: l.core.run,
		At: view.At, Wall: o.Clock.Wall(), Sequence: l.core.sequence,
		View: view, Protection: protection(view),
		Ports: append([]sensors.PortStatus(nil), l.core.ports...),
		Sound: l.soundState(),
		Record: RecordState{
			Recording: fails == "", Place: o.Record.Dir(),
			Fails: fails, Dropped: uint64(health.ReadingsLost),
		},
		Stations: l.stations(), Start: l.core.start,
	}
	if l.core.session != nil {
		session := *l.core.session
		s.Session = &session
	}
	if view.Advice.KeepAway {
		s.keepBack()
	}
	return s
}

// soundState never says that a hub sounds which can't.
func (l *loop) soundState() SoundState {
	sound := l.h.options.Sounder.State()
	s := SoundState{CanSound: sound.CanSound, By: sound.By, Detail: sound.Detail}
	if sound.CanSound || !sound.Checked {
		s.Now = l.sounding
	}
	return s
}

// keepBack takes out what would ask somebody to mend something at the bench:
// while the fumes may be dangerous no text may.
func (s *Snapshot) keepBack() {
	for i := range s.Ports {
		s.Ports[i].Detail = ""
	}
	s.Sound.Detail = ""
}

// recordFails says in a few words why the record can't be kept; "" when it can.
// It asks nobody to do anything: that is for the alarm to say.
func (l *loop) recordFails(h record.Health) string {
	switch {
	case l.h.options.RecordFails != "":
		return l.h.options.RecordFails
	case h.Failing && h.Err != nil:
		return h.Err.Error()
	case h.Failing:
		return "the disk does not take it"
	case h.StorageFull:
		return "the disk is nearly full"
	default:
		return ""
	}
}
