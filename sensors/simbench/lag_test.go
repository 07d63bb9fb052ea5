package simbench

import (
	"testing"
	"time"
)

func TestAStoryWaitsForALaggingWireButNotForOneThatNobodyReads(t *testing.T) {
	var l lag
	begin := time.Now()
	var story time.Duration
	for i, c := range []struct {
		watch, moves time.Duration // since the step before
		lags         bool
		losses       int
		holds        bool
		why          string
	}{
		{0, 0, true, 0, false, "every byte lies for a moment"},
		{time.Second, lagNoticed - 1, true, 0, false, "the story has hardly moved"},
		{1, 1, true, 0, false, "but a second is more than enough by any watch"},
		{1, 0, false, 0, false, "read"},
		{1, 0, true, 0, false, "the next lies for a moment"},
		{1, lagNoticed, true, 0, true, "the story has moved on meanwhile"},
		{lagAwaited - 2, 0, true, 0, true, "it still lies"},
		{0, 0, false, 0, false, "read"},
		{1, 0, true, 0, false, "nobody reads any more"},
		{1, lagNoticed, true, 0, true, "which can't be known yet"},
		{lagAwaited, 0, true, 0, false, "half a second is enough"},
		{1, time.Second, false, 1, false, "it was lost, not read"},
		{1, time.Second, true, 1, false, "so it is not waited for"},
		{1, time.Second, true, 1, false, "however far the story goes"},
		{1, time.Second, false, 1, false, "read at last"},
		{1, time.Second, true, 1, false, "so it is waited for again"},
		{1, lagNoticed, true, 1, true, "once the story has moved on"},
	} {
		begin, story = begin.Add(c.watch), story+c.moves
		if got := l.holds(story, begin, c.lags, c.losses); got != c.holds {
			t.Fatalf("step %d (%s): the story is held: %v", i, c.why, got)
		}
	}
}
