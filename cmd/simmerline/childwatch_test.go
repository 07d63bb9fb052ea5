//go:build unix

package main

import (
	"fmt"
	"testing"
	"time"

	"google.golang.org/protobuf/encoding/protojson"

	"simmerline/hub"
	"simmerline/hub/grpcapi"
	simmerlinepb "simmerline/proto/simmerline/v1"
)

// hubFollower follows a hub by what `simmerline watch --json` prints. One
// goroutine uses it.
type hubFollower struct {
	t      testing.TB
	watch  *child
	lines  []string // printed and not yet looked at
	mirror grpcapi.Mirror
	// numbers are those of all announcements so far, in the order they came.
	numbers []uint64
	events  []*simmerlinepb.AlarmEvent // every one so far
	// each is called with every message, where it is set.
	each func(*simmerlinepb.WatchResponse)
}

func followHub(t testing.TB, address string) *hubFollower {
	t.Helper()
	return &hubFollower{t: t, watch: startChild(t, nil, "watch", "--json", "--hub", address)}
}

// next gives the next message, and nil where none came by the limit.
func (f *hubFollower) next(limit <-chan time.Time) *simmerlinepb.WatchResponse {
	f.t.Helper()
	for {
		more := f.watch.out.more()
		if len(f.lines) == 0 {
			f.lines = f.watch.out.takeLines()
		}
		if len(f.lines) > 0 {
			line := f.lines[0]
			f.lines = f.lines[1:]
			m := &simmerlinepb.WatchResponse{}
			if err := protojson.Unmarshal([]byte(line), m); err != nil {
				f.t.Fatalf("watch --json printed %q: %v", line, err)
			}
			f.take(m)
			return m
		}
		select {
		case <-more:
		case <-limit:
			return nil
		case <-f.watch.ended:
			f.t.Fatalf("watch ended (%v):\n%s", f.watch.err, f.watch.said.text())
		}
	}
}

func (f *hubFollower) take(m *simmerlinepb.WatchResponse) {
	f.mirror.Take(m)
	if e := m.GetAlarmEvent(); e != nil {
		f.events = append(f.events, e)
	}
	if m.GetAlarmEvent() != nil || m.GetNotice() != nil {
		f.numbers = append(f.numbers, m.GetSequence())
	}
	if f.each != nil {
		f.each(m)
	}
}

// until waits for a message that is wanted.
func (f *hubFollower) until(what string, wanted func(*simmerlinepb.WatchResponse) bool) *simmerlinepb.WatchResponse {
	f.t.Helper()
	limit := time.NewTimer(patience)
	defer limit.Stop()
	for {
		m := f.next(limit.C)
		if m == nil {
			f.t.Fatalf("waited in vain for %s; the hub is as\n%s", what, f.portrait())
		}
		if wanted(m) {
			return m
		}
	}
}

// state waits until the hub's state is as wanted.
func (f *hubFollower) state(what string, wanted func(*hub.Snapshot) bool) *hub.Snapshot {
	f.t.Helper()
	if s := f.mirror.Snapshot(); s != nil && wanted(s) {
		return s
	}
	f.until(what, func(*simmerlinepb.WatchResponse) bool {
		s := f.mirror.Snapshot()
		return s != nil && wanted(s)
	})
	return f.mirror.Snapshot()
}

// event waits for an alarm to come into a state; what it did before counts too
// where it was not asked for.
func (f *hubFollower) event(alarm string, state simmerlinepb.AlarmState) *simmerlinepb.AlarmEvent {
	f.t.Helper()
	return f.until(fmt.Sprintf("%s to become %v", alarm, state), func(m *simmerlinepb.WatchResponse) bool {
		e := m.GetAlarmEvent()
		return e.GetName() == alarm && e.GetState() == state
	}).GetAlarmEvent()
}

// raised counts how often an alarm of a priority was raised.
func (f *hubFollower) raised(priority simmerlinepb.AlarmPriority) (names []string) {
	for _, e := range f.events {
		if e.GetPriority() == priority && e.GetState() == simmerlinepb.AlarmState_ALARM_STATE_UNACKNOWLEDGED {
			names = append(names, e.GetName())
		}
	}
	return names
}

// numbersHaveNoHole holds that no announcement was missed, or came twice, over
// everything that happened to the stream.
func (f *hubFollower) numbersHaveNoHole() {
	f.t.Helper()
	for i := 1; i < len(f.numbers); i++ {
		if f.numbers[i] != f.numbers[i-1]+1 {
			f.t.Errorf("announcements came numbered %v", f.numbers)
			return
		}
	}
}

// portrait says how things stand, for a test that fails.
func (f *hubFollower) portrait() string {
	s := f.mirror.Snapshot()
	if s == nil {
		return "not known: no snapshot has come"
	}
	text := fmt.Sprintf("%v: %s\n", s.At, s.View.Advice.Sentence)
	for _, c := range s.View.Channels {
		text += fmt.Sprintf("channel %s: %v %v %v\n", c.Name, c.Reading.Value, c.Reading.Quality, c.Reading.Reason)
	}
	for _, a := range s.View.Alarms {
		text += fmt.Sprintf("alarm %s: %v\n", a.Name, a.State)
	}
	for _, p := range s.Ports {
		text += fmt.Sprintf("port %s: %v %+v %s\n", p.Port, p.State, p.Faults, p.Detail)
	}
	for _, e := range f.events {
		text += fmt.Sprintf("event %v %s %v → %v\n", e.GetAt().GetOffset().AsDuration(), e.GetName(), e.GetPreviousState(), e.GetState())
	}
	return text
}

// channelCelsius gives a channel's temperature in a state; ok is false where it has none.
func channelCelsius(s *hub.Snapshot, channel string) (c float64, ok bool) {
	for _, view := range s.View.Channels {
		if t, is := view.Reading.Value.Celsius(); is && view.Name == channel {
			return float64(t), true
		}
	}
	return 0, false
}

// at waits until a channel shows a temperature, and says when it was seen.
func (f *hubFollower) at(channel string, wanted float64) time.Time {
	f.t.Helper()
	f.state(fmt.Sprintf("%s at %v °C", channel, wanted), func(s *hub.Snapshot) bool {
		c, ok := channelCelsius(s, channel)
		return ok && c == wanted
	})
	return time.Now()
}
