package stream

import (
	"context"
	"errors"
	"io"
	"net"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"
	"google.golang.org/grpc/test/bufconn"
	"google.golang.org/protobuf/types/known/durationpb"

	"simmerline/hub/grpcapi"
	simmerlinepb "simmerline/proto/simmerline/v1"
)

// script is a hub that says, in each stream, what the test has written down,
// and then ends the stream with an error.
type script struct {
	simmerlinepb.UnimplementedWatchServiceServer
	streams [][]*simmerlinepb.WatchResponse
	ends    error

	mu    sync.Mutex
	asked []*simmerlinepb.WatchRequest
}

func (s *script) Watch(r *simmerlinepb.WatchRequest, stream grpc.ServerStreamingServer[simmerlinepb.WatchResponse]) error {
	s.mu.Lock()
	s.asked = append(s.asked, r)
	n := len(s.asked)
	s.mu.Unlock()
	if n > len(s.streams) {
		<-stream.Context().Done()
		return nil
	}
	for _, m := range s.streams[n-1] {
		if err := stream.Send(m); err != nil {
			return err
		}
	}
	return s.ends
}

// serve gives a connection to the script, in memory.
func serve(t *testing.T, s *script) *grpc.ClientConn {
	t.Helper()
	listener := bufconn.Listen(1 << 16)
	server := grpc.NewServer()
	simmerlinepb.RegisterWatchServiceServer(server, s)
	served := make(chan error, 1)
	go func() { served <- server.Serve(listener) }()
	connection, err := grpcapi.Dial("hub:1",
		grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return listener.DialContext(ctx) }))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = connection.Close()
		server.Stop()
		if err := <-served; err != nil {
			t.Error(err)
		}
	})
	return connection
}

func snapshot(sequence uint64, resumption simmerlinepb.Resumption) *simmerlinepb.WatchResponse {
	return &simmerlinepb.WatchResponse{
		Sequence: sequence, At: &simmerlinepb.Moment{Run: 1, Offset: durationpb.New(time.Minute)},
		Message: &simmerlinepb.WatchResponse_Snapshot{Snapshot: &simmerlinepb.Snapshot{
			Bench: &simmerlinepb.Bench{Name: "Pennywhistle Yard"}, State: &simmerlinepb.BenchState{}, Resumption: resumption,
		}},
	}
}

func notice(sequence uint64, kind simmerlinepb.NoticeKind, text string) *simmerlinepb.WatchResponse {
	return &simmerlinepb.WatchResponse{Sequence: sequence, Message: &simmerlinepb.WatchResponse_Notice{
		Notice: &simmerlinepb.Notice{Kind: kind, Sentence: text},
	}}
}

// A stream that breaks is taken up again with the last number, the state and
// every announcement are given on, and a hub's last word is none of them.
func TestHubComesBackWithTheLastNumber(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &script{ends: status.Error(codes.Unavailable, "gone"), streams: [][]*simmerlinepb.WatchResponse{
			{snapshot(7, 0), notice(8, simmerlinepb.NoticeKind_NOTICE_KIND_MARK, "first"), notice(8, simmerlinepb.NoticeKind_NOTICE_KIND_STOPPING, "bye")},
			{}, {}, {}, {}, {}, {}, {}, // it refuses for a while
			{snapshot(8, simmerlinepb.Resumption_RESUMPTION_COMPLETE), notice(9, simmerlinepb.NoticeKind_NOTICE_KIND_MARK, "second")},
			{snapshot(2, simmerlinepb.Resumption_RESUMPTION_INCOMPLETE)},
		}}
		ctx, cancel := context.WithCancel(t.Context())
		var texts []string
		var stopping, missed int
		began := time.Now()
		var came []time.Duration
		connection := serve(t, s)
		err := Hub(ctx, connection, true, func(m Message) error {
			came = append(came, time.Since(began))
			if m.State == nil || m.State.Bench != "Pennywhistle Yard" {
				t.Errorf("the state after %v is %+v", m.Wire, m.State)
			}
			if m.Announcement != nil {
				texts = append(texts, m.Announcement.Notice.Text)
			}
			if m.Stopping() {
				stopping++
			}
			if m.Missed() {
				missed++
				cancel()
			}
			return nil
		})
		if err != nil {
			t.Errorf("it ended with %v", err)
		}
		if len(texts) != 2 || texts[0] != "first" || texts[1] != "second" || stopping != 1 || missed != 1 {
			t.Errorf("heard %q, %d times stopping, %d times missed", texts, stopping, missed)
		}
		wantAfter := []uint64{8, 8, 8, 8, 8, 8, 8, 8, 9}
		for i, r := range s.asked {
			if !r.GetStation() {
				t.Errorf("stream %d does not say that it is a station", i)
			}
			if i == 0 && r.ResumeAfter != nil || i > 0 && (r.ResumeAfter == nil || r.GetResumeAfter() != wantAfter[i-1]) {
				t.Errorf("stream %d asks to resume after %v", i, r.ResumeAfter)
			}
		}
		// 0.2 s, then each wait longer by 3/5 and none beyond 3 s.
		if back := came[3] - came[2]; back < 10*time.Second || back > 14*time.Second {
			t.Errorf("seven refusals and the way back took %s", back)
		}
	})
}

func TestHubThatCannotBeReached(t *testing.T) {
	s := &script{ends: status.Error(codes.ResourceExhausted, "full"), streams: [][]*simmerlinepb.WatchResponse{{}}}
	connection := serve(t, s)
	err := Hub(t.Context(), connection, false, func(Message) error { t.Error("something is heard"); return nil })
	if !errors.Is(err, ErrNotReached) || status.Code(err) != codes.ResourceExhausted {
		t.Errorf("a hub that refuses gives %v", err)
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := listener.Addr().String()
	_ = listener.Close()
	nobody, err := grpcapi.Dial(address)
	if err != nil {
		t.Fatal(err)
	}
	defer nobody.Close()
	err = Hub(t.Context(), nobody, false, func(Message) error { return nil })
	if !errors.Is(err, ErrNotReached) || status.Code(err) != codes.Unavailable {
		t.Errorf("where nobody listens it gives %v", err)
	}
}

// A hub that takes the call and never says anything is not waited for for ever.
func TestHubThatNeverBegins(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		connection := serve(t, &script{})
		began := time.Now()
		err := Hub(t.Context(), connection, false, func(Message) error { return nil })
		if waited := time.Since(began); !errors.Is(err, ErrNotReached) || status.Code(err) != codes.DeadlineExceeded || waited != beginWithin {
			t.Errorf("after %s it gives %v", waited, err)
		}
	})
}

func TestHubEndsWithItsListener(t *testing.T) {
	s := &script{ends: io.ErrUnexpectedEOF, streams: [][]*simmerlinepb.WatchResponse{{snapshot(1, 0)}}}
	connection := serve(t, s)
	full := errors.New("no room to print")
	if err := Hub(t.Context(), connection, false, func(Message) error { return full }); !errors.Is(err, full) {
		t.Errorf("it ended with %v", err)
	}
}
