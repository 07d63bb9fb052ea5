package grpcapi

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	"simmerline/hub"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/rules"
)

// stateAt is a quiet state of testBench that includes announcements up to a number.
func stateAt(sequence uint64, at time.Duration) *hub.Snapshot {
	setup := testBench().Setup
	s := &hub.Snapshot{Bench: "Pennywhistle Yard", Run: 1, At: at, Wall: drawnWall.Add(at), Sequence: sequence}
	s.View = rules.View{At: at, InUse: true, Boiling: setup.Boiling, Advice: rules.Advice{Sentence: "No alarm."}}
	for _, c := range setup.Channels {
		s.View.Channels = append(s.View.Channels, rules.ChannelView{Channel: c, Age: -1})
	}
	return s
}

func edge(sequence uint64) hub.Announcement {
	at := time.Duration(sequence) * time.Second
	return hub.Announcement{
		Sequence: sequence, Run: 1, At: at, Wall: drawnWall.Add(at), Recorded: hub.RecordedWritten,
		Alarm: &rules.Event{At: at, Alarm: "hot-sulfide-danger", From: rules.Normal, To: rules.Unacknowledged, Cause: rules.CauseRaised, Priority: rules.Danger, Class: rules.BathDanger},
	}
}

func edges(from, to uint64) []hub.Announcement {
	var all []hub.Announcement
	for n := from; n <= to; n++ {
		all = append(all, edge(n))
	}
	return all
}

// brief tells messages in a few letters: their part and their number.
func brief(messages []*simmerlinepb.WatchResponse) []string {
	var all []string
	for _, m := range messages {
		part := m.ProtoReflect().WhichOneof(m.ProtoReflect().Descriptor().Oneofs().ByName("message"))
		all = append(all, fmt.Sprintf("%s %d", part.Name(), m.GetSequence()))
	}
	return all
}

func TestWhatAClientIsToldAndInWhichOrder(t *testing.T) {
	changed := stateAt(7, 9*time.Second)
	changed.Stations = 3
	for _, test := range []struct {
		name   string
		resume *uint64
		given  []hub.Update
		want   []string
		how    simmerlinepb.Resumption
	}{
		{"a client that begins", nil,
			[]hub.Update{{State: stateAt(5, time.Second)}, {Heartbeat: true}},
			[]string{"snapshot 5", "heartbeat 5"}, 0},
		{"one that comes back and missed nothing", proto.Uint64(5),
			[]hub.Update{{State: stateAt(5, time.Second)}},
			[]string{"snapshot 5"}, simmerlinepb.Resumption_RESUMPTION_COMPLETE},
		{"one that missed three", proto.Uint64(2),
			[]hub.Update{{State: stateAt(5, time.Second), Announcements: edges(3, 5)}, {Heartbeat: true}},
			[]string{"snapshot 2", "alarm_event 3", "alarm_event 4", "alarm_event 5", "heartbeat 5"}, simmerlinepb.Resumption_RESUMPTION_COMPLETE},
		{"one that was away for too long", proto.Uint64(2),
			[]hub.Update{{State: stateAt(9, time.Second), Announcements: edges(8, 9), Incomplete: true}},
			[]string{"snapshot 7", "alarm_event 8", "alarm_event 9"}, simmerlinepb.Resumption_RESUMPTION_INCOMPLETE},
		{"one that comes from another record", proto.Uint64(500),
			[]hub.Update{{State: stateAt(9, time.Second), Incomplete: true}},
			[]string{"snapshot 9"}, simmerlinepb.Resumption_RESUMPTION_INCOMPLETE},
		{"events go before the state that includes them", nil,
			[]hub.Update{{State: stateAt(5, time.Second)}, {State: changed, Announcements: edges(6, 7), Heartbeat: true}},
			[]string{"snapshot 5", "alarm_event 6", "alarm_event 7", "change 7", "heartbeat 7"}, 0},
		{"an event that came between the state and the first look", nil,
			[]hub.Update{{State: stateAt(6, time.Second), Announcements: edges(6, 6)}},
			[]string{"snapshot 5", "alarm_event 6"}, 0},
		{"a state in which nothing differs is no message", nil,
			[]hub.Update{{State: stateAt(5, time.Second)}, {State: stateAt(5, 2*time.Second)}},
			[]string{"snapshot 5"}, 0},
		{"nothing before the state", nil,
			[]hub.Update{{Heartbeat: true}, {State: stateAt(5, time.Second)}},
			[]string{"snapshot 5"}, 0},
	} {
		t.Run(test.name, func(t *testing.T) {
			p := progress{bench: testBench(), newest: func() *hub.Snapshot { return stateAt(5, time.Minute) }, resumes: test.resume != nil}
			var told []*simmerlinepb.WatchResponse
			for _, u := range test.given {
				told = append(told, p.messages(u)...)
			}
			if got := brief(told); !slices.Equal(got, test.want) {
				t.Errorf("told %q, want %q", got, test.want)
			}
			if got := told[0].GetSnapshot().GetResumption(); got != test.how {
				t.Errorf("resumption is %v, want %v", got, test.how)
			}
			if len(told[0].GetSnapshot().GetBench().GetChannels()) != 3 {
				t.Error("the snapshot does not describe the bench")
			}
			for i, m := range told[1:] {
				before := told[i]
				if m.GetSequence() < before.GetSequence() || m.GetAt().GetOffset().AsDuration() < before.GetAt().GetOffset().AsDuration() {
					t.Errorf("message %d went back in number or time: %v after %v", i+1, m, before)
				}
			}
		})
	}
}

// Events of long ago do not take the clock of ages and countdowns back.
func TestAnOldEventKeepsItsOwnTime(t *testing.T) {
	p := progress{bench: testBench(), resumes: true}
	told := p.messages(hub.Update{State: stateAt(3, time.Hour), Announcements: edges(3, 3)})
	if got := told[1].GetAt().GetOffset().AsDuration(); got != time.Hour {
		t.Errorf("the message is of %v, want the hub's newest moment", got)
	}
	if got := told[1].GetAlarmEvent().GetAt().GetOffset().AsDuration(); got != 3*time.Second {
		t.Errorf("the event is of %v, want when it happened", got)
	}
}

func TestAMirrorShowsWhatWasToldAndResumesThere(t *testing.T) {
	p := progress{bench: testBench(), newest: func() *hub.Snapshot { return stateAt(6, time.Minute) }}
	var m Mirror
	if m.Snapshot() != nil || m.Resume(true).ResumeAfter != nil || !m.Resume(true).GetStation() {
		t.Error("a mirror that has heard nothing holds something")
	}
	later := stateAt(6, 2*time.Second)
	later.Stations = 2
	for _, u := range []hub.Update{{State: stateAt(5, time.Second)}, {State: later, Announcements: edges(6, 6)}, {Heartbeat: true}} {
		for _, message := range p.messages(u) {
			m.Take(overTheWire(t, message))
		}
	}
	got := m.Snapshot()
	if got.Stations != 2 || got.Bench != "Pennywhistle Yard" || got.At != time.Minute || len(got.View.Channels) != 3 {
		t.Errorf("the mirror shows %+v", got)
	}
	if resume := m.Resume(false); resume.ResumeAfter == nil || resume.GetResumeAfter() != 6 || resume.GetResumeRun() != 1 {
		t.Errorf("it resumes with %v, want after 6 of run 1", resume)
	}
}

// A hub is trusted, but what arrives may be anything.
func FuzzMirror(f *testing.F) {
	p := progress{bench: testBench(), newest: func() *hub.Snapshot { return stateAt(6, time.Minute) }}
	for _, u := range []hub.Update{{State: stateAt(5, time.Second)}, {State: stateAt(6, 2*time.Second), Announcements: edges(6, 6), Heartbeat: true}} {
		for _, m := range p.messages(u) {
			data, err := proto.Marshal(m)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(data)
		}
	}
	first := p.messages(hub.Update{State: stateAt(9, time.Hour)})
	f.Fuzz(func(t *testing.T, data []byte) {
		message := &simmerlinepb.WatchResponse{}
		if proto.Unmarshal(data, message) != nil {
			return
		}
		var m Mirror
		for _, known := range first {
			m.Take(known)
		}
		m.Take(message)
		if s := m.Snapshot(); s != nil {
			_ = s.View.Advice.Saying.Sentence()
		}
		_, _ = AnnouncementFromWire(message)
	})
}
