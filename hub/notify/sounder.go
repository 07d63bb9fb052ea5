package notify

import (
	"context"
	"fmt"
	"os/exec"
	"sync"
	"time"
)

// How often, in real time, the ways to sound are tried again.
const (
	recheckWell   = 5 * time.Minute  // the best way works
	recheckLesser = 30 * time.Second // only a lesser way works
	recheckNone   = 5 * time.Second  // none works
)

const (
	// provenAfter is how long a sound must go on to prove its way.
	provenAfter = time.Second
	// overdueAfter is how much longer than its sound a player may take.
	overdueAfter = 5 * time.Second
)

// Hooks tell the owner of a Sounder what it does. They are called by its
// goroutine, one at a time, and must not block.
type Hooks struct {
	// Started tells that a sound has begun: its player has been started, or the
	// bell rung for the first time. It is called for each start, so now and
	// then again while an alarm goes on.
	Started func(level Level, at time.Time)
	// Changed tells the new state whenever it has changed.
	Changed func(State)
}

// Sounder makes the hub's own sound. One goroutine, in Run, owns all of it.
type Sounder struct {
	hooks  Hooks
	outfit *outfit
	wake   chan struct{} // one slot: something below has changed

	mu      sync.Mutex // guards the fields below
	alarm   Level      // Silence, Warning or Danger: what is to be repeated
	aside   Level      // Silence, Notice or Test: what is still to be played once
	state   State
	heardAt time.Time
	heardBy string

	// What follows belongs to the goroutine in Run.
	current  *sound
	timer    *time.Timer // for current: proven, then overdue
	recheck  *time.Timer
	checked  chan []outcome     // what the check in hand found
	checking context.CancelFunc // nil when none is in hand
}

// sound is what is being played, by which way.
type sound struct {
	*playing
	level  Level
	index  int
	began  time.Time
	proven bool
}

// outcome is what trying one way brought.
type outcome struct {
	index int
	err   error
}

// New makes a Sounder for this machine; it makes no sound before Run. It fails
// only for a Config that Validate refuses.
func New(config Config, hooks Hooks) (*Sounder, error) {
	outfit, err := outfitOf(config, exec.LookPath, openTerminal)
	if err != nil {
		return nil, err
	}
	return newSounder(outfit, hooks), nil
}

func newSounder(o *outfit, hooks Hooks) *Sounder {
	return &Sounder{
		hooks: hooks, outfit: o, state: o.state(-1),
		wake: make(chan struct{}, 1), checked: make(chan []outcome, 1),
	}
}

// Set says what should sound. It never blocks and may be called from anywhere,
// also before Run. Of several levels set in quick succession the newest counts.
//
// Silence, Warning and Danger stay until the next of them. Notice and Test are
// played once over silence; they do not end an alarm, are dropped while one
// stands, and are cut short by one.
func (s *Sounder) Set(level Level) {
	if level > Danger {
		return
	}
	s.mu.Lock()
	if level.once() {
		s.aside = level
	} else {
		s.alarm = level
	}
	s.mu.Unlock()
	s.poke()
}

// Heard notes that a person has heard the sound of this hub at the given time.
// It holds for the way in use now: another one has to be heard anew. It does
// nothing while there is no way.
func (s *Sounder) Heard(at time.Time) {
	s.mu.Lock()
	if s.state.By != "" {
		s.heardAt, s.heardBy = at, s.state.By
	}
	s.mu.Unlock()
	s.poke()
}

// State says how the sound stands. It may be called from anywhere.
func (s *Sounder) State() State {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.state
}

func (s *Sounder) poke() {
	select {
	case s.wake <- struct{}{}:
	default:
	}
}

// wanted says what should be sounding now.
func (s *Sounder) wanted() Level {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.alarm != Silence {
		s.aside = Silence
		return s.alarm
	}
	return s.aside
}

// Run sounds until ctx ends, then ends its players and returns, within a few
// seconds. It is called once.
func (s *Sounder) Run(ctx context.Context) {
	s.timer, s.recheck = stoppedTimer(), stoppedTimer()
	defer s.outfit.close()
	defer s.stopCheck()
	defer s.stopSound()
	s.startCheck(ctx)
	for {
		s.follow()
		s.report()
		var ended <-chan struct{}
		if s.current != nil {
			ended = s.current.ended
		}
		select {
		case <-ctx.Done():
			return
		case <-s.wake:
		case <-ended:
			s.judgeEnd()
		case <-s.timer.C:
			s.judgeTime()
		case outcomes := <-s.checked:
			s.judgeCheck(outcomes)
		case <-s.recheck.C:
			s.startCheck(ctx)
		}
	}
}

// follow makes what sounds agree with what is wanted, by the best way there is.
func (s *Sounder) follow() {
	level := s.wanted()
	if s.current != nil && s.current.level == level && !s.betterThan(s.current.index) {
		return
	}
	s.stopSound()
	if level == Silence {
		return
	}
	for i, w := range s.outfit.ways {
		if w.standing == failed {
			continue
		}
		// A check may hold the sound device, if only for a moment.
		s.stopCheck()
		p, err := w.start(level)
		at := time.Now()
		if err != nil {
			s.fail(i, err)
			continue
		}
		s.current = &sound{playing: p, level: level, index: i, began: at}
		s.timer.Reset(min(provenAfter, s.current.length()))
		if s.hooks.Started != nil {
			s.hooks.Started(level, at)
		}
		return
	}
	s.playedAside(level)
}

// length is how long the sound is meant to last.
func (c *sound) length() time.Duration {
	pattern, _ := PatternOf(c.level)
	return time.Duration(cyclesOf(c.level, alarmSpan)) * pattern.Cycle()
}

func (s *Sounder) betterThan(index int) bool {
	best := s.outfit.best()
	return best >= 0 && best < index
}

// playedAside notes that a notice or test is over, whether or not it could be
// played. A newer one of the other kind stays wanted.
func (s *Sounder) playedAside(level Level) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.aside == level {
		s.aside = Silence
	}
}

// fail notes that a way has failed and sees to it that it is tried again.
func (s *Sounder) fail(index int, err error) {
	s.outfit.ways[index].fail(err)
	s.scheduleCheck()
}

// judgeEnd weighs how the current sound has ended by itself.
func (s *Sounder) judgeEnd() {
	c, lasted := s.current, time.Since(s.current.began)
	s.stopSound()
	err := c.err
	if err == nil && lasted < c.length()/2 {
		err = fmt.Errorf("%s ends after %v what should last %v", s.outfit.ways[c.index].name(),
			lasted.Round(time.Millisecond), c.length())
	}
	if err != nil {
		s.fail(c.index, err)
		return
	}
	s.outfit.ways[c.index].succeed()
	s.playedAside(c.level)
}

// judgeTime is called when the current sound has gone on long enough to prove
// its way, and again when it should have been over.
func (s *Sounder) judgeTime() {
	c := s.current
	if c == nil {
		return
	}
	if !c.proven {
		c.proven = true
		s.outfit.ways[c.index].succeed()
		s.timer.Reset(c.length() + overdueAfter - time.Since(c.began))
		return
	}
	s.stopSound()
	s.fail(c.index, fmt.Errorf("%s hangs: a sound of %v was not over after %v",
		s.outfit.ways[c.index].name(), c.length(), c.length()+overdueAfter))
}

func (s *Sounder) stopSound() {
	if s.current != nil {
		s.timer.Stop()
		s.current.stop()
		s.current = nil
	}
}

// startCheck tries the ways, out of the way of the sound: all of them in
// silence, only the better ones while a lesser one sounds.
func (s *Sounder) startCheck(ctx context.Context) {
	if s.checking != nil {
		return
	}
	ways := s.outfit.ways
	if s.current != nil {
		ways = ways[:s.current.index]
	}
	if len(ways) == 0 {
		s.scheduleCheck()
		return
	}
	ctx, s.checking = context.WithCancel(ctx)
	go func() {
		var outcomes []outcome
		for i, w := range ways {
			err := w.probe(ctx)
			if ctx.Err() != nil {
				break
			}
			outcomes = append(outcomes, outcome{index: i, err: err})
		}
		s.checked <- outcomes
	}()
}

// stopCheck breaks off the check in hand, keeping what it has found so far.
func (s *Sounder) stopCheck() {
	if s.checking != nil {
		s.checking()
		s.judgeCheck(<-s.checked)
	}
}

// judgeCheck weighs what a check has found. What sounds at this moment is judged
// by its sounding alone: some devices serve only one player at a time.
func (s *Sounder) judgeCheck(outcomes []outcome) {
	s.checking()
	s.checking = nil
	for _, found := range outcomes {
		switch w := s.outfit.ways[found.index]; {
		case s.current != nil && s.current.index == found.index:
		case found.err != nil:
			w.fail(found.err)
		default:
			w.succeed()
		}
	}
	s.scheduleCheck()
}

// scheduleCheck sets the time of the next check by how well things stand.
func (s *Sounder) scheduleCheck() {
	after := recheckLesser
	switch best := s.outfit.best(); {
	case best == 0:
		after = recheckWell
	case best < 0:
		after = recheckNone
	}
	if len(s.outfit.ways) > 0 {
		s.recheck.Reset(after)
	}
}

// report makes the state known where it has changed.
func (s *Sounder) report() {
	index, sounding := -1, Silence
	if s.current != nil {
		index, sounding = s.current.index, s.current.level
	}
	state := s.outfit.state(index)
	state.Sounding = sounding
	s.mu.Lock()
	if s.heardBy == state.By {
		state.HeardAt = s.heardAt
	}
	changed := state != s.state
	s.state = state
	s.mu.Unlock()
	if changed && s.hooks.Changed != nil {
		s.hooks.Changed(state)
	}
}

// stoppedTimer makes a timer that does not fire before it is reset.
func stoppedTimer() *time.Timer {
	timer := time.NewTimer(time.Hour)
	timer.Stop()
	return timer
}
