package hub

import (
	"context"
	"fmt"
	"time"

	"simmerline/rules"
)

// recallWithin is how long a client that comes back waits for the record. A
// disk that takes longer may not keep it from watching.
const recallWithin = 2 * time.Second

// Watch gives a client a place at the hub. Its first update holds the state of
// this moment and, where it resumes, every announcement it has missed. Only
// what memory no longer holds is read from the record, and not by the loop;
// where that can't be read the client watches all the same.
func (h *Hub) Watch(ctx context.Context, o WatchOptions) (*Watcher, error) {
	reading, cancel := context.WithTimeout(ctx, recallWithin)
	defer cancel()
	if o.Resume && o.Run != 0 {
		o.After = h.kept(reading, o.Run, o.After)
	}
	got, err := h.ask(ctx, func(l *loop) (answer, error) { return l.watch(o), nil })
	if err != nil {
		return nil, err
	}
	if got.lacks > 0 {
		missed, err := h.recall(reading, o.After, o.After+got.lacks)
		if err != nil {
			h.options.Log.Warn("what a client has missed can't be read", "after", o.After, "error", err)
		}
		got.watcher.precede(missed, uint64(len(missed)) == got.lacks)
	}
	return got.watcher, nil
}

// kept lowers a number that a client has of an earlier run to the newest that
// the record has of that run: what came after it was lost with the power, and
// its numbers were given anew. It leaves the number of a run not known here.
func (h *Hub) kept(ctx context.Context, run, after uint64) uint64 {
	if run >= h.loop.core.run { // set by New, and never again
		return after
	}
	newest, err := h.options.Record.NewestOf(ctx, int64(run))
	if err != nil {
		h.options.Log.Warn("what a client has of an earlier run can't be judged", "run", run, "error", err)
		return min(after, h.loop.firstOfRun-1)
	}
	return min(after, uint64(newest))
}

// watch registers a client, in the same step in which it takes what to begin
// with, so that nothing falls between. Duty 4 holds for the first state too:
// where announcements are held back it is the one published last.
func (l *loop) watch(o WatchOptions) answer {
	state := l.h.latest.Load()
	if len(l.announcer.waiting) == 0 || state == nil {
		state = l.snapshot()
	}
	w := newWatcher(o.Station, l.h.leave)
	first := Update{State: state}
	after := state.Sequence
	if o.Resume {
		first.Incomplete = o.After > after+uint64(len(l.announcer.waiting)) || o.Run > l.core.run
		after = min(after, o.After)
	}
	var lacks uint64
	var whole bool
	if first.Announcements, whole = l.announcer.after(after); !whole {
		lacks = first.Announcements[0].Sequence - 1 - after
	}
	if state.View.Advice.KeepAway {
		first.Announcements = keptBack(first.Announcements)
	}
	w.begin(first)
	l.watchers[w] = struct{}{}
	l.dirty = true
	return answer{watcher: w, lacks: lacks}
}

// recall reads from the record what was announced after one number, up to
// another. It is bounded: a client that was away for longer is given the newest.
func (h *Hub) recall(ctx context.Context, after, last uint64) (missed []Announcement, err error) {
	if last-after > keptForResume {
		after = last - keptForResume
	}
	timeline, err := h.options.Record.Timeline(ctx)
	if err != nil {
		return nil, fmt.Errorf("hub: %w", err)
	}
	for row, err := range h.options.Record.EventsAfter(ctx, int64(after)) {
		if err != nil {
			return missed, fmt.Errorf("hub: %w", err)
		}
		if uint64(row.Sequence) > last {
			break
		}
		wall, _ := timeline.Wall(row.Moment)
		missed = append(missed, announcementOf(row, wall.In(h.options.Clock.Wall().Location())))
	}
	return missed, nil
}

// keptBack takes out of what was said earlier whatever may ask somebody to the
// bench: while the fumes may be dangerous, what to do is said by the state alone.
func keptBack(earlier []Announcement) []Announcement {
	kept := make([]Announcement, len(earlier))
	for i, a := range earlier {
		kept[i] = a
		e := a.Alarm
		if e == nil || e.Class.KeepsAway() && (e.To == rules.Unacknowledged || e.To == rules.Acknowledged) {
			continue
		}
		bare := *e
		bare.Sentence = fmt.Sprintf("%s: %s, %s.", e.Subject, e.Priority, e.Cause)
		kept[i].Alarm = &bare
	}
	return kept
}

func (l *loop) unwatch(w *Watcher) (answer, error) {
	if _, there := l.watchers[w]; there {
		delete(l.watchers, w)
		w.end(ErrStopping)
		l.dirty = true
	}
	return answer{}, nil
}
