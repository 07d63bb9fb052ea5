package grpcapi

import (
	"context"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"simmerline/hub"
	simmerlinepb "simmerline/proto/simmerline/v1"
)

type watching = grpc.ServerStreamingClient[simmerlinepb.WatchResponse]

func watch(t *testing.T, ctx context.Context, s *station, r *simmerlinepb.WatchRequest) watching {
	t.Helper()
	stream, err := simmerlinepb.NewWatchServiceClient(s.client).Watch(ctx, r)
	if err != nil {
		t.Fatal(err)
	}
	return stream
}

// next receives so many messages.
func next(t *testing.T, stream watching, n int) []*simmerlinepb.WatchResponse {
	t.Helper()
	var all []*simmerlinepb.WatchResponse
	for range n {
		m, err := stream.Recv()
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, m)
	}
	return all
}

func TestAStreamTellsWhatHappens(t *testing.T) {
	inBubble(t, nil, func(t *testing.T, ctx context.Context, s *station) {
		stream := watch(t, ctx, s, &simmerlinepb.WatchRequest{})
		told := next(t, stream, 1)
		changed := stateAt(6, 2*time.Second)
		changed.Stations = 1
		s.hub.tell(hub.Update{State: changed, Announcements: edges(6, 6)})
		s.hub.tell(hub.Update{Heartbeat: true})
		told = append(told, next(t, stream, 3)...)
		if got, want := brief(told), []string{"snapshot 5", "alarm_event 6", "change 6", "heartbeat 6"}; !slices.Equal(got, want) {
			t.Errorf("told %q, want %q", got, want)
		}
		event := told[1].GetAlarmEvent()
		if event.GetName() != "hot-sulfide-danger" || event.GetState() != simmerlinepb.AlarmState_ALARM_STATE_UNACKNOWLEDGED ||
			event.GetPriority() != simmerlinepb.AlarmPriority_ALARM_PRIORITY_DANGER || event.GetRecorded() != simmerlinepb.Recorded_RECORDED_WRITTEN {
			t.Errorf("the event is %v", event)
		}
	})
}

func TestAClientAsksForWhatItMissed(t *testing.T) {
	inBubble(t, nil, func(t *testing.T, ctx context.Context, s *station) {
		asked := make(chan hub.WatchOptions, 2)
		s.hub.first = func(o hub.WatchOptions) hub.Update {
			asked <- o
			return hub.Update{State: s.hub.Snapshot(), Announcements: edges(o.After+1, 5)}
		}
		stream := watch(t, ctx, s, &simmerlinepb.WatchRequest{ResumeAfter: proto.Uint64(3), ResumeRun: 2, Station: true})
		if got, want := brief(next(t, stream, 3)), []string{"snapshot 3", "alarm_event 4", "alarm_event 5"}; !slices.Equal(got, want) {
			t.Errorf("told %q, want %q", got, want)
		}
		if got, want := <-asked, (hub.WatchOptions{Resume: true, Run: 2, After: 3, Station: true}); got != want {
			t.Errorf("the hub was asked %+v, want %+v", got, want)
		}
		watch(t, ctx, s, &simmerlinepb.WatchRequest{})
		if got := <-asked; got != (hub.WatchOptions{}) {
			t.Errorf("the hub was asked %+v by a client that begins", got)
		}
	})
}

func TestAStreamEndsForAReason(t *testing.T) {
	for _, test := range []struct {
		why    error
		code   codes.Code
		notice bool
	}{
		{hub.ErrStopping, codes.Unavailable, true},
		{hub.ErrTooSlow, codes.ResourceExhausted, false},
	} {
		t.Run(test.code.String(), func(t *testing.T) {
			inBubble(t, nil, func(t *testing.T, ctx context.Context, s *station) {
				stream := watch(t, ctx, s, &simmerlinepb.WatchRequest{})
				next(t, stream, 1)
				s.hub.end(test.why)
				if test.notice {
					if last := next(t, stream, 1)[0].GetNotice(); last.GetKind() != simmerlinepb.NoticeKind_NOTICE_KIND_STOPPING {
						t.Errorf("the last message is %v", last)
					}
				}
				if _, err := stream.Recv(); status.Code(err) != test.code {
					t.Errorf("the stream ended with %v, want %v", err, test.code)
				}
			})
		})
	}
}

func TestStoppingTheServerTellsItsStreamsAndWaitsForNobody(t *testing.T) {
	inBubble(t, nil, func(t *testing.T, ctx context.Context, s *station) {
		listens := watch(t, ctx, s, &simmerlinepb.WatchRequest{})
		next(t, listens, 1)
		watch(t, ctx, s, &simmerlinepb.WatchRequest{}) // never receives
		synctest.Wait()
		fill(s)
		synctest.Wait()
		began := time.Now()
		go s.stop()
		for {
			m, err := listens.Recv()
			if err != nil {
				t.Fatalf("the stream ended with %v and no notice", err)
			}
			if m.GetNotice().GetKind() == simmerlinepb.NoticeKind_NOTICE_KIND_STOPPING {
				break
			}
		}
		s.stop()
		if took := time.Since(began); took > stopWithin+time.Second {
			t.Errorf("stopping took %v", took)
		}
	})
}

// fill tells so much that a client that takes nothing can't be sent it all.
func fill(s *station) {
	for n := uint64(6); n < 2006; n++ {
		s.hub.tell(hub.Update{Announcements: edges(n, n)})
	}
}

// A client that takes nothing holds up nobody, and loses its place.
func TestADeafClientIsCutOff(t *testing.T) {
	inBubble(t, nil, func(t *testing.T, ctx context.Context, s *station) {
		deaf := watch(t, ctx, s, &simmerlinepb.WatchRequest{})
		listens := watch(t, ctx, s, &simmerlinepb.WatchRequest{})
		synctest.Wait()
		fill(s)
		for _, m := range next(t, listens, 2001)[1:] {
			if m.GetAlarmEvent() == nil {
				t.Fatalf("not an alarm event: %v", m)
			}
		}
		time.Sleep(sendLimit + time.Second)
		synctest.Wait()
		if n := s.hub.watching(); n != 1 {
			t.Errorf("%d clients have a place at the hub, want the one that listens", n)
		}
		// When it listens again it gets what was sent, then the reason, and it
		// can come back with the last number it has.
		var last uint64
		for {
			m, err := deaf.Recv()
			if err != nil {
				if status.Code(err) != codes.ResourceExhausted {
					t.Errorf("it was cut off with %v", err)
				}
				break
			}
			if m.GetAlarmEvent() != nil && last != 0 && m.GetSequence() != last+1 {
				t.Errorf("after %d came %d", last, m.GetSequence())
			}
			last = m.GetSequence()
		}
		if last < 5 || last >= 2005 {
			t.Errorf("it was told up to %d", last)
		}
	})
}

func TestNoMoreClientsThanAreServed(t *testing.T) {
	inBubble(t, nil, func(t *testing.T, ctx context.Context, s *station) {
		leaveCtx, leave := context.WithCancel(ctx)
		next(t, watch(t, leaveCtx, s, &simmerlinepb.WatchRequest{}), 1)
		for range mostWatching - 1 {
			next(t, watch(t, ctx, s, &simmerlinepb.WatchRequest{}), 1)
		}
		// One connection has no more streams than that, so the next has its own.
		other := s.connect()
		more := func() error {
			stream, err := simmerlinepb.NewWatchServiceClient(other).Watch(ctx, &simmerlinepb.WatchRequest{})
			if err == nil {
				_, err = stream.Recv()
			}
			return err
		}
		if err := more(); status.Code(err) != codes.ResourceExhausted {
			t.Errorf("one too many was told %v", err)
		}
		leave()
		time.Sleep(time.Second)
		if err := more(); err != nil {
			t.Errorf("after one has left: %v", err)
		}
		if err := other.Close(); err != nil {
			t.Error(err)
		}
	})
}
