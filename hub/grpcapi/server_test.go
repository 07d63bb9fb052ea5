package grpcapi

import (
	"context"
	"io"
	"net"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	healthgrpc "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/keepalive"
	reflectgrpc "google.golang.org/grpc/reflection/grpc_reflection_v1"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/durationpb"

	"simmerline/hub"
	"simmerline/hub/record"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/rules"
)

func TestCallsReachTheHubAndComeBack(t *testing.T) {
	inBubble(t, nil, func(t *testing.T, ctx context.Context, s *station) {
		s.hub.acknowledge = func(alarm, by, why string) (rules.AlarmView, hub.Recorded, error) {
			return rules.AlarmView{Name: alarm, State: rules.Acknowledged, By: by, Why: why}, hub.RecordedSynced, nil
		}
		alarms := simmerlinepb.NewAlarmServiceClient(s.client)
		got, err := alarms.AcknowledgeAlarm(ctx, &simmerlinepb.AcknowledgeAlarmRequest{Name: "h2s-danger", By: "owner", Why: "outside"})
		if err != nil {
			t.Fatal(err)
		}
		a := AlarmFromWire(got.GetAlarm())
		if a.Name != "h2s-danger" || a.State != rules.Acknowledged || a.By != "owner" || a.Why != "outside" || RecordedFromWire(got.GetRecorded()) != hub.RecordedSynced {
			t.Errorf("got %+v, %v", a, got.GetRecorded())
		}
		bench, err := simmerlinepb.NewBenchServiceClient(s.client).GetBench(ctx, &simmerlinepb.GetBenchRequest{})
		if err != nil || bench.GetBench().GetName() != "Pennywhistle Yard" {
			t.Errorf("the bench is %v, %v", bench, err)
		}
		var asked time.Duration
		s.hub.start = func(name string, since time.Duration, by string) (hub.Session, hub.Recorded, error) {
			asked = since
			return hub.Session{Session: record.Session{ID: 3, Name: name, StartedBy: by}}, hub.RecordedWritten, nil
		}
		session, err := simmerlinepb.NewSessionServiceClient(s.client).StartSession(ctx,
			&simmerlinepb.StartSessionRequest{Name: "leaves", By: "owner", Since: durationpb.New(20 * time.Minute)})
		if err != nil || session.GetSession().GetName() != "leaves" || asked != 20*time.Minute {
			t.Errorf("got %v, %v; the hub was asked for %v ago", session, err, asked)
		}
	})
}

func TestRefusalsReachTheClient(t *testing.T) {
	inBubble(t, nil, func(t *testing.T, ctx context.Context, s *station) {
		s.hub.acknowledge = func(alarm, _, _ string) (rules.AlarmView, hub.Recorded, error) {
			return rules.AlarmView{}, hub.RecordedNo, rules.ErrNoSuchAlarm
		}
		alarms := simmerlinepb.NewAlarmServiceClient(s.client)
		_, err := alarms.AcknowledgeAlarm(ctx, &simmerlinepb.AcknowledgeAlarmRequest{Name: "nope", By: "owner"})
		if status.Code(err) != codes.NotFound || violations(err)["name"] == "" {
			t.Errorf("no such alarm: %v, %v", err, violations(err))
		}
		_, err = alarms.AcknowledgeAlarm(ctx, &simmerlinepb.AcknowledgeAlarmRequest{Why: strings.Repeat("x", 300)})
		if got := violations(err); status.Code(err) != codes.InvalidArgument || len(got) != 3 {
			t.Errorf("three wrong fields: %v, %v", err, got)
		}
		_, err = simmerlinepb.NewBenchServiceClient(s.client).PutAway(ctx, &simmerlinepb.PutAwayRequest{By: "owner"})
		if status.Code(err) != codes.FailedPrecondition {
			t.Errorf("a hot bench put away: %v", err)
		}
		sessions := simmerlinepb.NewSessionServiceClient(s.client)
		_, err = sessions.ListSessions(ctx, &simmerlinepb.ListSessionsRequest{PageSize: -1, PageToken: "x"})
		if got := violations(err); status.Code(err) != codes.InvalidArgument || got["page_size"] == "" || got["page_token"] == "" {
			t.Errorf("a wrong page: %v, %v", err, got)
		}
		// A fault in a handler must not take the hub with it.
		_, err = sessions.AddMark(ctx, &simmerlinepb.AddMarkRequest{Text: "added ammonia"})
		if status.Code(err) != codes.Internal || strings.Contains(err.Error(), "test put here") {
			t.Errorf("a fault: %v", err)
		}
		s.hub.state.Store(nil)
		_, err = alarms.ListAlarms(ctx, &simmerlinepb.ListAlarmsRequest{})
		if status.Code(err) != codes.Unavailable {
			t.Errorf("before the first state: %v", err)
		}
	})
}

func TestSessionsComeInPages(t *testing.T) {
	inBubble(t, nil, func(t *testing.T, ctx context.Context, s *station) {
		for id := int64(7); id >= 1; id-- {
			s.hub.sessions = append(s.hub.sessions, hub.Session{Session: record.Session{ID: id}})
		}
		var pages [][]uint64
		token := ""
		for {
			page, err := simmerlinepb.NewSessionServiceClient(s.client).ListSessions(ctx, &simmerlinepb.ListSessionsRequest{PageSize: 3, PageToken: token})
			if err != nil {
				t.Fatal(err)
			}
			var ids []uint64
			for _, session := range page.GetSessions() {
				ids = append(ids, session.GetId())
			}
			pages = append(pages, ids)
			if token = page.GetNextPageToken(); token == "" {
				break
			}
		}
		if len(pages) != 3 || !slices.Equal(slices.Concat(pages...), []uint64{7, 6, 5, 4, 3, 2, 1}) {
			t.Errorf("the pages are %v", pages)
		}
	})
}

func TestHealthFollowsTheLoop(t *testing.T) {
	inBubble(t, nil, func(t *testing.T, ctx context.Context, s *station) {
		health := healthgrpc.NewHealthClient(s.client)
		for _, step := range []struct {
			stuck bool
			want  healthgrpc.HealthCheckResponse_ServingStatus
		}{
			{false, healthgrpc.HealthCheckResponse_SERVING},
			{true, healthgrpc.HealthCheckResponse_NOT_SERVING},
			{false, healthgrpc.HealthCheckResponse_SERVING},
		} {
			s.hub.stuck.Store(step.stuck)
			time.Sleep(healthEvery + time.Millisecond)
			for _, name := range []string{"", simmerlinepb.WatchService_ServiceDesc.ServiceName} {
				got, err := health.Check(ctx, &healthgrpc.HealthCheckRequest{Service: name})
				if err != nil || got.GetStatus() != step.want {
					t.Errorf("stuck %v: %q is %v, %v; want %v", step.stuck, name, got.GetStatus(), err, step.want)
				}
			}
		}
	})
}

func TestReflectionListsTheServices(t *testing.T) {
	inBubble(t, nil, func(t *testing.T, ctx context.Context, s *station) {
		stream, err := reflectgrpc.NewServerReflectionClient(s.client).ServerReflectionInfo(ctx)
		if err != nil {
			t.Fatal(err)
		}
		if err := stream.Send(&reflectgrpc.ServerReflectionRequest{MessageRequest: &reflectgrpc.ServerReflectionRequest_ListServices{}}); err != nil {
			t.Fatal(err)
		}
		answer, err := stream.Recv()
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, service := range answer.GetListServicesResponse().GetService() {
			names = append(names, service.GetName())
		}
		for _, want := range []string{"simmerline.v1.WatchService", "simmerline.v1.AlarmService", "simmerline.v1.BenchService", "simmerline.v1.SessionService", "grpc.health.v1.Health"} {
			if !slices.Contains(names, want) {
				t.Errorf("%s is not listed in %v", want, names)
			}
		}
		if err := stream.CloseSend(); err != nil {
			t.Error(err)
		}
		if _, err := stream.Recv(); err != io.EOF {
			t.Errorf("after the end: %v", err)
		}
	})
}

// A client may idle for hours under pings on both sides, and is not punished
// for its own.
func TestAnIdleConnectionIsKept(t *testing.T) {
	inBubble(t, nil, func(t *testing.T, ctx context.Context, s *station) {
		alarms := simmerlinepb.NewAlarmServiceClient(s.client)
		for range 3 {
			if _, err := alarms.ListAlarms(ctx, &simmerlinepb.ListAlarmsRequest{}); err != nil {
				t.Fatal(err)
			}
			time.Sleep(25 * time.Minute)
		}
		if got := s.dials.Load(); got != 1 {
			t.Errorf("the client had to connect %d times", got)
		}
	})
}

// cutOff watches over a network that then swallows everything.
func cutOff(t *testing.T, options []grpc.DialOption, test func(*testing.T, *station, watching)) {
	var cut atomic.Bool
	wire := func(s *station) { s.network = func(c net.Conn) net.Conn { return newCable(c, &cut) } }
	inBubble(t, wire, func(t *testing.T, ctx context.Context, s *station) {
		client := s.connect(options...)
		stream, err := simmerlinepb.NewWatchServiceClient(client).Watch(ctx, &simmerlinepb.WatchRequest{})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := stream.Recv(); err != nil {
			t.Fatal(err)
		}
		cut.Store(true)
		test(t, s, stream)
		if err := client.Close(); err != nil {
			t.Error(err)
		}
	})
}

// noticed is how long a lost network may take to be noticed by pings.
const noticed = keepaliveEvery + keepaliveWait + time.Second

func TestAClientNoticesALostNetwork(t *testing.T) {
	cutOff(t, nil, func(t *testing.T, _ *station, stream watching) {
		began := time.Now()
		if _, err := stream.Recv(); status.Code(err) != codes.Unavailable {
			t.Errorf("the client was told %v", err)
		}
		if took := time.Since(began); took > noticed {
			t.Errorf("the client noticed after %v", took)
		}
	})
}

func TestALostClientGivesUpItsPlace(t *testing.T) {
	// This client never pings, so that only the hub's own pings can tell.
	mute := grpc.WithKeepaliveParams(keepalive.ClientParameters{Time: 12 * time.Hour})
	cutOff(t, []grpc.DialOption{mute}, func(t *testing.T, s *station, _ watching) {
		time.Sleep(noticed)
		synctest.Wait()
		if n := s.hub.watching(); n != 0 {
			t.Errorf("%d clients still have a place at the hub", n)
		}
	})
}

func TestDialSaysWhatAnAddressLooksLike(t *testing.T) {
	for _, address := range []string{"", "7410", "localhost", "127.0.0.1", "127.0.0.1:", "::1:7410"} {
		if _, err := Dial(address); err == nil || !strings.Contains(err.Error(), "127.0.0.1:7410") {
			t.Errorf("%q: %v", address, err)
		}
	}
	for _, address := range []string{"127.0.0.1:7410", ":7410", "[::1]:7410", "bench.local:7410"} {
		connection, err := Dial(address)
		if err != nil {
			t.Errorf("%q: %v", address, err)
			continue
		}
		if err := connection.Close(); err != nil {
			t.Errorf("%q: %v", address, err)
		}
	}
}

func TestServingNeedsItsParts(t *testing.T) {
	if _, err := New(Options{}); err == nil {
		t.Error("a server of nothing was made")
	}
}
