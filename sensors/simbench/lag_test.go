package simbench

import (
	"testing"
	"time"
)

func TestAStoryWaitsForALaggingWireButNotForOneThatNobodyReads(t *testing.T) {
	var l lag
	begin := time.Now()
	for _, c := range []struct {
		at     time.Duration
		lags   bool
		losses int
		holds  bool
		why    string
	}{
		{0, true, 0, false, "every byte lies for a moment"},
		{lagNoticed, true, 0, true, "it has lain for long"},
		{100 * time.Millisecond, true, 0, true, "it still does"},
		{101 * time.Millisecond, false, 0, false, "it was read"},
		{102 * time.Millisecond, true, 0, false, "the next lies for a moment"},
		{103 * time.Millisecond, false, 0, false, "and was read"},
		{time.Second, true, 0, false, "nobody reads any more"},
		{1200 * time.Millisecond, true, 0, true, "which can't be known yet"},
		{1501 * time.Millisecond, true, 0, false, "half a second is enough"},
		{1600 * time.Millisecond, false, 1, false, "it was lost, not read"},
		{1700 * time.Millisecond, true, 1, false, "so it is not waited for"},
		{2700 * time.Millisecond, true, 1, false, "however long"},
		{2800 * time.Millisecond, false, 1, false, "read at last"},
		{2900 * time.Millisecond, true, 1, false, "so it is waited for again"},
		{3000 * time.Millisecond, true, 1, true, "once it has lain for long"},
	} {
		if got := l.holds(begin.Add(c.at), c.lags, c.losses); got != c.holds {
			t.Fatalf("at %v (%s) the story is held: %v", c.at, c.why, got)
		}
	}
}
