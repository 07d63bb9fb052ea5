package clock

import (
	"context"
	"sync"
	"time"
)

const (
	// pacerStep is the longest real time between two steps of a story, and
	// storyStep the longest time of the story. Timers that are due sooner are met
	// sooner.
	pacerStep = 5 * time.Millisecond
	storyStep = 180 * time.Millisecond
	// mostStep is the most time of the story that one step may count, so that
	// what the machine had no time for did not happen.
	mostStep = 2 * storyStep
	// holdStep is how long a story that is held waits before it looks again.
	holdStep = time.Millisecond
	// realFloor is the shortest time-out that Real gives. A kernel can't be
	// trusted with less on a busy machine.
	realFloor = 50 * time.Millisecond
)

// Story is the clock of a demo: its time runs a stated number of times faster
// than real time, but only while its pacer gets to run, so a starved process
// slows the story down instead of inventing a silence. It stands still before
// Run begins and after Run has ended. It is safe for concurrent use.
type Story struct {
	wallAtZero time.Time
	speed      float64
	wake       chan struct{} // holds one token when an earlier timer was made
	behind     func() bool   // nil for never

	mu      sync.Mutex
	base    time.Duration // story time at the last step
	stepped time.Time     // real time of the last step; zero while it stands still
	timers  timers
}

// NewStory makes a clock that stands at the offset start. wall is the date and
// time at offset 0. The speed is how many story seconds pass in a real one,
// from 0.001 to 1000; any other number counts as 1, as a clock must go forward.
func NewStory(start time.Duration, wall time.Time, speed float64) *Story {
	if !(speed >= 0.001 && speed <= 1000) { // so written, it is true of NaN too
		speed = 1
	}
	return &Story{wallAtZero: wall, speed: speed, base: start, wake: make(chan struct{}, 1)}
}

// HoldWhile makes the story stand still while behind says that somebody has yet
// to do what is already due. On a machine with other work a byte may lie unread
// for a tenth of a second, which is six of a fast story's. It is called before
// Run; behind is called often, by Run's goroutine, and must not wait.
func (s *Story) HoldWhile(behind func() bool) { s.behind = behind }

// Run paces the story until ctx is done. Call it once; its caller owns the
// goroutine and waits for its end.
func (s *Story) Run(ctx context.Context) {
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		if s.behind != nil && s.behind() {
			s.stand()
			timer.Reset(holdStep)
		} else {
			timer.Reset(s.step())
		}
		select {
		case <-ctx.Done():
			s.stand()
			return
		case <-timer.C:
		case <-s.wake:
		}
	}
}

// step moves the story up to this moment, fires what is due, and returns how
// long to wait in real time for the next step.
func (s *Story) step() time.Duration {
	s.mu.Lock()
	defer s.mu.Unlock()
	now := time.Now()
	s.base += s.sinceStep(now)
	s.stepped = now
	s.timers.fire(s.base, s.wallAt)
	wait := s.pace()
	if due, ok := s.timers.next(); ok {
		// Rounded up, so that the step at its end does not fall just short.
		wait = min(wait, time.Duration(float64(due-s.base)/s.speed)+time.Microsecond)
	}
	return wait
}

// pace is the longest real time between two steps at the story's speed.
func (s *Story) pace() time.Duration {
	return min(pacerStep, time.Duration(float64(storyStep)/s.speed))
}

// stand lets the story stand still from this moment until the next step.
func (s *Story) stand() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.base += s.sinceStep(time.Now())
	s.stepped = time.Time{}
	s.timers.fire(s.base, s.wallAt)
}

// sinceStep is the story time that has passed since the last step.
func (s *Story) sinceStep(now time.Time) time.Duration {
	if s.stepped.IsZero() {
		return 0
	}
	return min(time.Duration(s.speed*float64(now.Sub(s.stepped))), mostStep)
}

// Now is the offset in the story.
func (s *Story) Now() time.Duration {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.base + s.sinceStep(time.Now())
}

// Wall is the date and time in the story.
func (s *Story) Wall() time.Time { return s.wallAt(s.Now()) }

func (s *Story) wallAt(offset time.Duration) time.Time { return s.wallAtZero.Add(offset) }

// SinceBoot is Now: when the machine sleeps, the story waits.
func (s *Story) SinceBoot() time.Duration { return s.Now() }

// NewTimer fires once d of story time after now; at once when d is 0 or less.
func (s *Story) NewTimer(d time.Duration) Timer {
	s.mu.Lock()
	defer s.mu.Unlock()
	now := s.base + s.sinceStep(time.Now())
	first, any := s.timers.next()
	f := s.timers.add(now + d)
	switch {
	case d <= 0:
		s.timers.remove(f)
		f.c <- s.wallAt(now)
	case !any || f.due < first:
		select {
		case s.wake <- struct{}{}:
		default:
		}
	}
	return storyTimer{s, f}
}

// Real is d on a real watch, but never less than 50 ms: at 60 times real speed
// a wait of less than 3 s of story may take that long. Whoever waits by Real
// looks at Now afterwards, and not at how often it waited.
func (s *Story) Real(d time.Duration) time.Duration {
	return max(time.Duration(float64(d)/s.speed), realFloor)
}

type storyTimer struct {
	clock  *Story
	firing *firing
}

func (t storyTimer) C() <-chan time.Time { return t.firing.c }

func (t storyTimer) Stop() {
	t.clock.mu.Lock()
	defer t.clock.mu.Unlock()
	t.clock.timers.remove(t.firing)
}
