package grpcapi

import (
	"cmp"
	"slices"
	"testing"

	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	simmerlinepb "simmerline/proto/simmerline/v1"
)

// Whatever happened between two states, a client that holds the first and is
// sent the change holds the second. Alarms have no order of their own there.
func TestMergingAChangeGivesTheNextState(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		prev, next := readable(stateToWire(drawSnapshot(t))), readable(stateToWire(drawSnapshot(t)))
		if rapid.Bool().Draw(t, "little has changed") {
			next = proto.CloneOf(prev)
			next.Readings[1].Quality = simmerlinepb.Quality_QUALITY_BAD
			next.Readings[1].Value = nil
		}
		// A run tells once how it began.
		next.Restart = prev.Restart
		held := proto.CloneOf(prev)
		if change := diff(prev, next); change != nil {
			merge(held, overTheWire(t, change))
		}
		byName := func(a, b *simmerlinepb.Alarm) int { return cmp.Compare(a.GetName(), b.GetName()) }
		slices.SortFunc(held.Alarms, byName)
		slices.SortFunc(next.Alarms, byName)
		if !proto.Equal(held, next) {
			t.Fatalf("merged\n %v\nwant\n %v", held, next)
		}
	})
}

func TestNothingIsSentWhileNothingHappens(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSnapshot(t)
		// A second later, with every age and countdown a second further.
		later := *s
		later.At, later.View.At = s.At+1e9, s.View.At+1e9
		later.View.Alarms = slices.Clone(s.View.Alarms)
		for i := range later.View.Alarms {
			if a := &later.View.Alarms[i]; a.ClearsIn > 1e9 {
				a.ClearsIn -= 1e9
			} else {
				a.ClearsIn = 0
				s.View.Alarms[i].ClearsIn = 0
			}
		}
		later.Protection.ReadyIn, s.Protection.ReadyIn = 0, 0
		prev := stateToWire(s)
		if d := diff(prev, stateToWire(&later)); d != nil {
			t.Fatalf("time alone made a change: %v", d)
		}
	})
}

func TestAChangeHoldsOnlyWhatDiffers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		prev := stateToWire(drawSnapshot(t))
		next := proto.CloneOf(prev)
		next.Readings[2].Value = &simmerlinepb.Value{Measured: &simmerlinepb.Value_PressureKpa{PressureKpa: 83.4}}
		want := &simmerlinepb.BenchState{Readings: next.Readings[2:3]}
		if got := diff(prev, next); !proto.Equal(got, want) {
			t.Fatalf("got %v, want %v", got, want)
		}
	})
}
