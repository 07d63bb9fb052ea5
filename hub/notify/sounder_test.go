package notify

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

func TestSounderFollowsTheLevel(t *testing.T) {
	bubble(t, "louder cuts softer, silence ends", func(t *testing.T) {
		b := run(t, &fakeWay{title: "aplay"})
		defer b.end()
		time.Sleep(time.Second)
		b.Set(Warning)
		time.Sleep(time.Second)
		b.Set(Danger)
		time.Sleep(time.Second)
		b.Set(Danger) // nothing new
		time.Sleep(time.Second)
		b.Set(Silence)
		b.wantLog(t, "1s aplay starts warning", "2s aplay is cut from warning", "2s aplay starts danger", "4s aplay is cut from danger")
		if want := []Level{Warning, Danger}; !slices.Equal(b.started, want) {
			t.Errorf("started %v, want %v", b.started, want)
		}
		if got := b.State().Sounding; got != Silence {
			t.Errorf("still sounding %s", got)
		}
	})
	bubble(t, "an alarm repeats without end", func(t *testing.T) {
		b := run(t, &fakeWay{title: "aplay"})
		defer b.end()
		time.Sleep(time.Second)
		b.Set(Danger)
		time.Sleep(time.Minute)
		b.Set(Silence)
		b.wantLog(t, "1s aplay starts danger", "16.4s aplay ends danger", "16.4s aplay starts danger", "31.8s aplay ends danger",
			"31.8s aplay starts danger", "47.2s aplay ends danger", "47.2s aplay starts danger", "1m1s aplay is cut from danger")
	})
	bubble(t, "a notice sounds once", func(t *testing.T) {
		b := run(t, &fakeWay{title: "aplay"})
		defer b.end()
		time.Sleep(time.Second)
		b.Set(Notice)
		b.Set(Silence) // as a hub would, that sets its alarm level at each step
		time.Sleep(time.Minute)
		b.wantLog(t, "1s aplay starts notice", "2s aplay ends notice")
	})
	bubble(t, "a notice or test never hides an alarm", func(t *testing.T) {
		b := run(t, &fakeWay{title: "aplay"})
		defer b.end()
		time.Sleep(time.Second)
		b.Set(Test)
		time.Sleep(time.Second)
		b.Set(Warning)
		time.Sleep(time.Second)
		b.Set(Notice)
		b.Set(Test)
		time.Sleep(time.Second)
		b.Set(Silence)
		time.Sleep(time.Minute)
		b.wantLog(t, "1s aplay starts test", "2s aplay is cut from test", "2s aplay starts warning", "4s aplay is cut from warning")
	})
	bubble(t, "set before run is not lost", func(t *testing.T) {
		log := &journal{began: time.Now()}
		way := &fakeWay{title: "aplay", log: log}
		s := newSounder(&outfit{ways: []*wayState{{way: way}}}, Hooks{})
		s.Set(Danger)
		ctx, cancel := context.WithTimeout(context.Background(), time.Second)
		defer cancel()
		s.Run(ctx)
		if want := []string{"0s aplay starts danger", "1s aplay is cut from danger"}; !slices.Equal(log.lines, want) {
			t.Errorf("got %v, want %v", log.lines, want)
		}
	})
	bubble(t, "what is no level changes nothing", func(t *testing.T) {
		b := run(t, &fakeWay{title: "aplay"})
		defer b.end()
		b.Set(Danger + 1)
		b.wantLog(t)
	})
}

func TestSounderFallsBack(t *testing.T) {
	broken := errors.New("aplay can't play: the cable is out")
	bubble(t, "at once when the way fails, and back when it works", func(t *testing.T) {
		aplay, bell := &fakeWay{title: "aplay", endsAfter: 3 * time.Second, endErr: broken}, &fakeWay{title: "bell"}
		b := run(t, aplay, bell)
		defer b.end()
		time.Sleep(time.Second)
		b.Set(Danger)
		time.Sleep(3*time.Second + time.Millisecond)
		state := b.State()
		if !state.CanSound || state.By != "bell" || !strings.Contains(state.Detail, "the cable is out") {
			t.Errorf("the state is %+v", state)
		}
		aplay.set(func(f *fakeWay) { f.endsAfter, f.endErr = 0, nil })
		time.Sleep(36 * time.Second)
		b.wantLog(t, "1s aplay starts danger", "4s aplay ends danger", "4s bell starts danger",
			"19.4s bell ends danger", "19.4s bell starts danger",
			"34s bell is cut from danger", "34s aplay starts danger")
		if state := b.State(); state.By != "aplay" {
			t.Errorf("the state is %+v", state)
		}
	})
	bubble(t, "from a way that can't be started", func(t *testing.T) {
		b := run(t, &fakeWay{title: "aplay", startErr: broken}, &fakeWay{title: "bell"})
		defer b.end()
		time.Sleep(time.Second)
		b.Set(Warning)
		b.wantLog(t, "1s bell starts warning")
	})
	bubble(t, "from a player that says it has played, but can't have", func(t *testing.T) {
		b := run(t, &fakeWay{title: "aplay", endsAfter: 20 * time.Millisecond}, &fakeWay{title: "bell"})
		defer b.end()
		time.Sleep(time.Second)
		b.Set(Notice)
		time.Sleep(5 * time.Second)
		b.wantLog(t, "1s aplay starts notice", "1.02s aplay ends notice", "1.02s bell starts notice", "2.02s bell ends notice")
	})
	bubble(t, "from a player that hangs", func(t *testing.T) {
		b := run(t, &fakeWay{title: "aplay", endsAfter: -1}, &fakeWay{title: "bell"})
		defer b.end()
		time.Sleep(time.Second)
		b.Set(Danger)
		time.Sleep(25 * time.Second)
		b.wantLog(t, "1s aplay starts danger", "21.4s aplay is cut from danger", "21.4s bell starts danger")
		if d := b.State().Detail; !strings.Contains(d, "hangs") {
			t.Errorf("the state says %q", d)
		}
	})
	bubble(t, "to nothing, says so, and sounds as soon as it can", func(t *testing.T) {
		aplay := &fakeWay{title: "aplay", probeErr: broken, startErr: broken}
		b := run(t, aplay)
		defer b.end()
		time.Sleep(time.Second)
		b.Set(Danger)
		synctest.Wait()
		state := b.State()
		if !state.Checked || state.CanSound || state.By != "" || !strings.HasPrefix(state.Detail, "this hub can make no sound: aplay can't play: the cable is out") {
			t.Errorf("the state is %+v", state)
		}
		aplay.set(func(f *fakeWay) { f.probeErr, f.startErr = nil, nil })
		time.Sleep(recheckNone)
		b.wantLog(t, "5s aplay starts danger")
	})
	bubble(t, "a notice that can't be played is not played late", func(t *testing.T) {
		aplay := &fakeWay{title: "aplay", probeErr: broken}
		b := run(t, aplay)
		defer b.end()
		time.Sleep(time.Second)
		b.Set(Notice)
		synctest.Wait()
		aplay.set(func(f *fakeWay) { f.probeErr = nil })
		time.Sleep(time.Hour)
		b.wantLog(t)
	})
}

func TestSounderKnowsWhetherItCanSound(t *testing.T) {
	bubble(t, "without ever having sounded", func(t *testing.T) {
		aplay := &fakeWay{title: "aplay", probeTakes: 50 * time.Millisecond}
		bell := &fakeWay{title: "bell", probeErr: errNoTerminal}
		b := run(t, aplay, bell)
		defer b.end()
		synctest.Wait()
		if s := b.State(); s.Checked || s.CanSound {
			t.Errorf("before anything was tried the state is %+v", s)
		}
		time.Sleep(time.Second)
		if s := b.State(); !s.Checked || !s.CanSound || s.By != "aplay" {
			t.Errorf("the state is %+v", s)
		}
		aplay.set(func(f *fakeWay) { f.probeErr = errors.New("aplay can't play: gone") })
		time.Sleep(recheckWell + time.Second)
		if s := b.State(); !s.Checked || s.CanSound || !strings.Contains(s.Detail, "gone") || !strings.Contains(s.Detail, "no terminal") {
			t.Errorf("after the loss the state is %+v", s)
		}
		b.wantLog(t) // all in silence
		synctest.Wait()
		if last := b.states[len(b.states)-1]; last != b.State() {
			t.Errorf("the last state told was %+v", last)
		}
	})
	bubble(t, "an alarm does not wait for a check, nor meets it at the device", func(t *testing.T) {
		aplay := &fakeWay{title: "aplay", probeTakes: 3 * time.Second}
		b := run(t, aplay)
		defer b.end()
		time.Sleep(time.Second)
		b.Set(Danger)
		time.Sleep(1100 * time.Millisecond)
		b.wantLog(t, "1s aplay starts danger")
		if aplay.mostInUse != 1 {
			t.Errorf("the device was used %d times at once", aplay.mostInUse)
		}
		if s := b.State(); !s.Checked || !s.CanSound {
			t.Errorf("while sounding the state is %+v", s)
		}
	})
	bubble(t, "heard by ear holds for one way", func(t *testing.T) {
		aplay := &fakeWay{title: "aplay"}
		b := run(t, aplay, &fakeWay{title: "bell"})
		defer b.end()
		time.Sleep(time.Second)
		at := time.Date(2026, 5, 7, 13, 0, 0, 0, time.UTC)
		b.Heard(at)
		synctest.Wait()
		if got := b.State().HeardAt; !got.Equal(at) {
			t.Errorf("heard at %v, want %v", got, at)
		}
		aplay.set(func(f *fakeWay) { f.probeErr = errors.New("gone") })
		time.Sleep(recheckWell + time.Second)
		if s := b.State(); s.By != "bell" || !s.HeardAt.IsZero() {
			t.Errorf("the state is %+v", s)
		}
	})
	bubble(t, "an unused lesser way costs no more than a try now and then", func(t *testing.T) {
		aplay := &fakeWay{title: "aplay"}
		b := run(t, aplay)
		defer b.end()
		time.Sleep(time.Hour)
		synctest.Wait()
		if aplay.probes > 14 {
			t.Errorf("%d tries in an hour", aplay.probes)
		}
	})
}

// Whatever is set in whatever order, with ways that come and go: the newest
// alarm is what sounds in the end, by a single sound at a time.
func TestSetNeverBlocksAndNewestWins(t *testing.T) {
	bubble(t, "flood", func(t *testing.T) {
		aplay := &fakeWay{title: "aplay"}
		b := run(t, aplay)
		defer b.end()
		time.Sleep(time.Second)
		for i := range 10_000 {
			b.Set(Levels[i%len(Levels)])
		}
		b.Set(Warning)
		synctest.Wait()
		if got := b.State().Sounding; got != Warning {
			t.Errorf("sounding %s, want warning", got)
		}
		if aplay.mostInUse != 1 {
			t.Errorf("%d sounds at once", aplay.mostInUse)
		}
	})
}
