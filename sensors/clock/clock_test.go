package clock

import (
	"context"
	"math"
	"sort"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"
)

var (
	_ Clock = (*System)(nil)
	_ Clock = (*Story)(nil)
	_ Clock = (*Manual)(nil)

	// thursday is the date at offset 0 in these tests.
	thursday = time.Date(2025, time.March, 6, 13, 0, 0, 0, time.UTC)
)

func TestSystemKeepsRealTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := NewSystem()
		s.boot = func() (time.Duration, bool) { return 0, false }
		wall := s.Wall()
		timer := s.NewTimer(3 * time.Second)
		<-timer.C()
		if got := s.Now(); got != 3*time.Second {
			t.Errorf("a timer of 3 s fired at %v", got)
		}
		if got := s.Wall().Sub(wall); got != 3*time.Second {
			t.Errorf("the wall clock moved by %v in 3 s", got)
		}
		if got := s.SinceBoot(); got != 3*time.Second {
			t.Errorf("without a boot clock SinceBoot is %v, want Now", got)
		}
		if got := s.Real(time.Minute); got != time.Minute {
			t.Errorf("a real minute lasts %v", got)
		}
		stopped := s.NewTimer(time.Second)
		stopped.Stop()
		time.Sleep(2 * time.Second)
		select {
		case <-stopped.C():
			t.Error("a stopped timer fired")
		default:
		}
	})
}

func TestSystemSeesASleepOfTheMachine(t *testing.T) {
	asleep := time.Duration(0)
	s := NewSystem()
	s.boot = func() (time.Duration, bool) { return time.Hour + asleep, true }
	before := s.SinceBoot()
	asleep = 90 * time.Second
	if got := s.SinceBoot() - before; got != 90*time.Second {
		t.Errorf("a sleep of 90 s shows as %v", got)
	}
}

// The boot clock of the machine that runs this test, where it has one.
func TestBootClockRuns(t *testing.T) {
	first, ok := sinceBoot()
	if !ok {
		t.Skip("this system has no clock that counts through sleep")
	}
	second, _ := sinceBoot()
	if first <= 0 || second < first {
		t.Errorf("the boot clock went from %v to %v", first, second)
	}
}

func TestStoryRunsAtItsSpeed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := NewStory(time.Hour, thursday, 20)
		if s.Now() != time.Hour || !s.Wall().Equal(thursday.Add(time.Hour)) {
			t.Fatalf("before Run the story stands at %v, %v", s.Now(), s.Wall())
		}
		time.Sleep(time.Second)
		if s.Now() != time.Hour {
			t.Fatalf("the story moved to %v before Run", s.Now())
		}
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan struct{})
		go func() { defer close(done); s.Run(ctx) }()
		begun := time.Now()
		<-s.NewTimer(60 * time.Second).C()
		if got := time.Since(begun); got < 3*time.Second || got > 3*time.Second+2*time.Millisecond {
			t.Errorf("60 s of story at 20 times real speed took %v", got)
		}
		if got := s.Now(); got < time.Hour+60*time.Second {
			t.Errorf("the timer fired early, at %v", got)
		}
		cancel()
		<-done
		stood := s.Now()
		time.Sleep(time.Second)
		if s.Now() != stood || s.SinceBoot() != stood {
			t.Errorf("after Run the story went on from %v to %v", stood, s.Now())
		}
	})
}

func TestStoryDoesNotLeapWhenStarved(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := NewStory(0, thursday, 60)
		s.stepped = time.Now()
		time.Sleep(10 * time.Second) // no step is made meanwhile
		if got, most := s.Now(), mostStep; got != most {
			t.Errorf("a pause of 10 s moved the story by %v, want %v", got, most)
		}
		s.step()
		if got, most := s.Now(), mostStep; got != most {
			t.Errorf("after the step the story stands at %v, want %v", got, most)
		}
	})
}

func TestStoryStandsStillWhileHeld(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := NewStory(0, thursday, 60)
		var held atomic.Bool
		s.HoldWhile(held.Load)
		done := make(chan struct{})
		ctx, cancel := context.WithCancel(t.Context())
		go func() { defer close(done); s.Run(ctx) }()
		time.Sleep(time.Second)
		held.Store(true)
		time.Sleep(pacerStep)
		stood := s.Now()
		timer := s.NewTimer(time.Millisecond)
		time.Sleep(10 * time.Second)
		if got := s.Now(); got != stood || stood < 59*time.Second {
			t.Errorf("a held story went from %v to %v", stood, got)
		}
		select {
		case <-timer.C():
			t.Error("a timer of a held story fired")
		default:
		}
		held.Store(false)
		time.Sleep(time.Second)
		if got := s.Now() - stood; got < 59*time.Second || got > 60*time.Second {
			t.Errorf("a second after it was let go the story has moved by %v", got)
		}
		<-timer.C()
		cancel()
		<-done
	})
}

func TestStoryGivesSaneTimeOuts(t *testing.T) {
	s := NewStory(0, thursday, 60)
	for _, c := range []struct{ story, real time.Duration }{
		{time.Minute, time.Second},
		{time.Second, realFloor},
		{0, realFloor},
	} {
		if got := s.Real(c.story); got != c.real {
			t.Errorf("%v of story is waited for %v, want %v", c.story, got, c.real)
		}
	}
	for _, speed := range []float64{0, -3, math.NaN(), math.Inf(1)} {
		if got := NewStory(0, thursday, speed).speed; got != 1 {
			t.Errorf("a speed of %v gives %v, want 1", speed, got)
		}
	}
}

// TestTimersFireInOrderAndNeverEarly holds the heap of Manual against a sorted
// list, over any mix of making, stopping and advancing.
func TestTimersFireInOrderAndNeverEarly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		type made struct {
			timer   Timer
			due     time.Duration
			stopped bool
			fired   bool
		}
		m := NewManual(0, thursday)
		var all []*made
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			switch rapid.IntRange(0, 2).Draw(t, "what") {
			case 0:
				d := time.Duration(rapid.IntRange(-2, 30).Draw(t, "delay")) * time.Second
				all = append(all, &made{timer: m.NewTimer(d), due: m.Now() + max(d, 0)})
			case 1:
				if len(all) > 0 {
					one := rapid.SampledFrom(all).Draw(t, "stop")
					one.timer.Stop()
					one.stopped = one.stopped || !one.fired && m.Now() < one.due
				}
			case 2:
				m.Advance(time.Duration(rapid.IntRange(-1, 10).Draw(t, "advance")) * time.Second)
			}
			for _, one := range all {
				select {
				case <-one.timer.C():
					if one.fired || one.stopped || m.Now() < one.due {
						t.Fatalf("fired at %v: due %v, stopped %v, fired before %v", m.Now(), one.due, one.stopped, one.fired)
					}
					one.fired = true
				default:
					if !one.fired && !one.stopped && m.Now() >= one.due {
						t.Fatalf("not fired at %v, though due %v", m.Now(), one.due)
					}
				}
			}
		}
	})
}

func TestOneAdvanceFiresInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var queue timers
		dues := rapid.SliceOfN(rapid.IntRange(0, 20), 1, 40).Draw(t, "dues")
		index := map[*firing]int{}
		for i, due := range dues {
			index[queue.add(time.Duration(due))] = i
		}
		var order []int
		for len(queue.pending) > 0 {
			first := queue.pending[0]
			order = append(order, index[first])
			queue.remove(first)
		}
		want := make([]int, len(dues))
		for i := range want {
			want[i] = i
		}
		sort.SliceStable(want, func(a, b int) bool { return dues[want[a]] < dues[want[b]] })
		for i := range want {
			if order[i] != want[i] {
				t.Fatalf("order %v, want %v", order, want)
			}
		}
	})
}

// TestStoryTimersNeverEarly makes timers from many goroutines while the story
// runs, at several speeds.
func TestStoryTimersNeverEarly(t *testing.T) {
	for _, speed := range []float64{0.5, 1, 7, 60} {
		synctest.Test(t, func(t *testing.T) {
			s := NewStory(0, thursday, speed)
			ctx, cancel := context.WithCancel(t.Context())
			defer cancel()
			go s.Run(ctx)
			for i := range 40 {
				go func() {
					for j := range 5 {
						d := time.Duration(1+(i*7+j*13)%29) * 250 * time.Millisecond
						due := s.Now() + d
						<-s.NewTimer(d).C()
						late := s.Now() - due
						if late < 0 || late > time.Duration(speed*float64(pacerStep)) {
							t.Errorf("at speed %v a timer of %v came %v after it was due", speed, d, late)
						}
					}
				}()
			}
			time.Sleep(10 * time.Minute)
		})
	}
}

func TestManualSuspends(t *testing.T) {
	m := NewManual(time.Minute, thursday)
	timer := m.NewTimer(time.Second)
	m.Suspend(time.Hour)
	select {
	case <-timer.C():
		t.Error("a timer fired by the machine's sleep")
	default:
	}
	if m.Now() != time.Minute || m.SinceBoot() != time.Hour+time.Minute {
		t.Errorf("after a sleep: now %v, since boot %v", m.Now(), m.SinceBoot())
	}
	if want := thursday.Add(time.Hour + time.Minute); !m.Wall().Equal(want) {
		t.Errorf("after a sleep it is %v, want %v", m.Wall(), want)
	}
	m.Advance(time.Second)
	<-timer.C()
}
