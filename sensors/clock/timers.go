package clock

import (
	"container/heap"
	"time"
)

// timers is the queue of pending firings of a clock that is moved by hand or
// by a pacer. Its owner guards it with a mutex.
type timers struct {
	pending firings
	made    uint64
}

// firing is one pending timer. Of two due at the same offset, the one made
// first fires first.
type firing struct {
	due   time.Duration
	made  uint64
	index int // in the heap; -1 when fired or stopped
	c     chan time.Time
}

// add makes a timer that is due at the given offset.
func (t *timers) add(due time.Duration) *firing {
	t.made++
	f := &firing{due: due, made: t.made, c: make(chan time.Time, 1)}
	heap.Push(&t.pending, f)
	return f
}

// remove takes a timer out; it does nothing once it has fired.
func (t *timers) remove(f *firing) {
	if f.index >= 0 {
		heap.Remove(&t.pending, f.index)
	}
}

// next tells when the earliest timer is due.
func (t *timers) next() (due time.Duration, ok bool) {
	if len(t.pending) == 0 {
		return 0, false
	}
	return t.pending[0].due, true
}

// fire fires what is due at now, in order. wall gives the date of an offset.
func (t *timers) fire(now time.Duration, wall func(time.Duration) time.Time) {
	for len(t.pending) > 0 && t.pending[0].due <= now {
		f := heap.Pop(&t.pending).(*firing)
		f.c <- wall(f.due) // never blocks: one slot, fired once
	}
}

type firings []*firing

func (p firings) Len() int { return len(p) }

func (p firings) Less(i, j int) bool {
	if p[i].due != p[j].due {
		return p[i].due < p[j].due
	}
	return p[i].made < p[j].made
}

func (p firings) Swap(i, j int) {
	p[i], p[j] = p[j], p[i]
	p[i].index, p[j].index = i, j
}

func (p *firings) Push(x any) {
	f := x.(*firing)
	f.index = len(*p)
	*p = append(*p, f)
}

func (p *firings) Pop() any {
	last := len(*p) - 1
	f := (*p)[last]
	(*p)[last] = nil
	*p = (*p)[:last]
	f.index = -1
	return f
}
