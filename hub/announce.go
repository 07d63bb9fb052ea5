package hub

import (
	"time"
)

// waitForDisk is how long an announcement is held back for the record.
const waitForDisk = 50 * time.Millisecond

// keptForResume is how many announcements stay in memory for clients that come
// back; older ones are read from the record.
const keptForResume = 4096

// settled is the record's word on one announcement.
type settled struct {
	sequence uint64
	err      error
}

// waiting is an announcement on its way to the clients.
type waiting struct {
	announcement Announcement
	deadline     time.Time
	settled      bool
}

// receipt lets whoever asked for something wait for the disk.
type receipt struct {
	written, synced chan struct{}
	passing         bool // the record is a passing one: nothing of it counts as kept
}

func (l *loop) newReceipt() *receipt {
	return &receipt{written: make(chan struct{}), synced: make(chan struct{}), passing: l.h.options.RecordFails != ""}
}

// announcer keeps announcements in order between the record and the clients.
type announcer struct {
	waiting []waiting
	recent  []Announcement
}

// add puts an announcement at the end of the line.
func (a *announcer) add(announcement Announcement, now time.Time) {
	a.waiting = append(a.waiting, waiting{announcement: announcement, deadline: now.Add(waitForDisk)})
}

// settle takes the record's word on one of them. Where that comes only after it
// has been announced, whoever comes back later is told of it.
func (a *announcer) settle(s settled) {
	for i := range a.waiting {
		if w := &a.waiting[i]; w.announcement.Sequence == s.sequence {
			w.settled = true
			if s.err == nil {
				w.announcement.Recorded = RecordedWritten
			}
			return
		}
	}
	if s.err != nil || len(a.recent) == 0 || s.sequence < a.recent[0].Sequence {
		return
	}
	if i := s.sequence - a.recent[0].Sequence; i < uint64(len(a.recent)) { // they are numbered without a hole
		a.recent[i].Recorded = RecordedWritten
	}
}

// due takes from the head of the line what may be announced now.
func (a *announcer) due(now time.Time) []Announcement {
	n := 0
	for n < len(a.waiting) && (a.waiting[n].settled || !now.Before(a.waiting[n].deadline)) {
		n++
	}
	if n == 0 {
		return nil
	}
	ready := make([]Announcement, 0, n)
	for _, w := range a.waiting[:n] {
		ready = append(ready, w.announcement)
	}
	a.waiting = append(a.waiting[:0], a.waiting[n:]...)
	a.recent = append(a.recent, ready...)
	if over := len(a.recent) - keptForResume; over > 0 {
		a.recent = append(a.recent[:0], a.recent[over:]...)
	}
	return ready
}

// nextDeadline is when the head of the line is announced whatever the disk
// does; ok is false when nothing waits.
func (a *announcer) nextDeadline() (at time.Time, ok bool) {
	if len(a.waiting) == 0 {
		return time.Time{}, false
	}
	return a.waiting[0].deadline, true
}

// after gives all that has been announced with a number above the given one;
// whole is false when memory does not reach back that far.
func (a *announcer) after(sequence uint64) (announcements []Announcement, whole bool) {
	for i, r := range a.recent {
		if r.Sequence > sequence {
			return append([]Announcement(nil), a.recent[i:]...), r.Sequence == sequence+1
		}
	}
	return nil, true
}
