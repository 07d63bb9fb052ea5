package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"net"
	"strings"
	"testing"
	"time"

	tea "charm.land/bubbletea/v2"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	"simmerline/cmd/simmerline/screen"
	"simmerline/cmd/simmerline/stream"
	"simmerline/hub/grpcapi"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/sensors/clock"
)

// watchedBench is a bench with one bath that is over its line.
func watchedBench(sequence uint64) *simmerlinepb.WatchResponse {
	return &simmerlinepb.WatchResponse{
		Sequence: sequence,
		At: &simmerlinepb.Moment{
			Run: 1, Offset: durationpb.New(time.Minute), Wall: timestamppb.New(time.Date(2025, 3, 6, 14, 3, 21, 0, time.UTC)),
		},
		Message: &simmerlinepb.WatchResponse_Snapshot{Snapshot: &simmerlinepb.Snapshot{
			Bench: &simmerlinepb.Bench{
				Name: "Pennywhistle Yard", Site: &simmerlinepb.Site{BoilingCelsius: 94.6},
				Baths: []*simmerlinepb.Bath{{Name: "hot", Label: "hot sulfide", Kind: simmerlinepb.BathKind_BATH_KIND_SULFIDE, LineCelsius: 90}},
			},
			State: &simmerlinepb.BenchState{
				Advice: &simmerlinepb.Advice{Headline: simmerlinepb.Headline_HEADLINE_HOT, Alarm: "hot-danger", Saying: &simmerlinepb.Saying{
					Subject: "hot sulfide", Figure: celsiusOnWire(90.4), Means: "over its line", Instruction: "Turn the hot plate down now.",
				}},
				InUse: proto.Bool(true), Protection: &simmerlinepb.Protection{Complete: true},
				Baths: []*simmerlinepb.BathState{{Bath: "hot", Reading: &simmerlinepb.Reading{
					Channel: "hot", Quality: simmerlinepb.Quality_QUALITY_GOOD, HeardOffset: durationpb.New(time.Minute), Value: celsiusOnWire(90.4),
				}}},
				Alarms: []*simmerlinepb.Alarm{{
					Name: "hot-danger", State: simmerlinepb.AlarmState_ALARM_STATE_UNACKNOWLEDGED, Active: true,
					Priority: simmerlinepb.AlarmPriority_ALARM_PRIORITY_DANGER, Class: simmerlinepb.AlarmClass_ALARM_CLASS_BATH_DANGER,
				}},
			},
		}},
	}
}

func celsiusOnWire(c float64) *simmerlinepb.Value {
	return &simmerlinepb.Value{Measured: &simmerlinepb.Value_TemperatureCelsius{TemperatureCelsius: c}}
}

func dangerEvent(sequence uint64) *simmerlinepb.WatchResponse {
	m := watchedBench(sequence)
	at := m.GetAt()
	return &simmerlinepb.WatchResponse{Sequence: sequence, At: at, Message: &simmerlinepb.WatchResponse_AlarmEvent{
		AlarmEvent: &simmerlinepb.AlarmEvent{
			Name: "hot-danger", Subject: "hot sulfide", State: simmerlinepb.AlarmState_ALARM_STATE_UNACKNOWLEDGED,
			Cause: simmerlinepb.AlarmCause_ALARM_CAUSE_RAISED, Priority: simmerlinepb.AlarmPriority_ALARM_PRIORITY_DANGER,
			Sentence: "Hot sulfide 90.4 °C, over its line. Turn the hot plate down now.", At: at,
			Recorded: simmerlinepb.Recorded_RECORDED_WRITTEN,
		},
	}}
}

// messageOf is a message with the state that it leads to.
func messageOf(mirror *grpcapi.Mirror, wire *simmerlinepb.WatchResponse) stream.Message {
	mirror.Take(wire)
	m := stream.Message{Wire: wire, State: mirror.Snapshot()}
	if a, ok := grpcapi.AnnouncementFromWire(wire); ok {
		m.Announcement = &a
	}
	return m
}

func TestLinesTellEventsAndSummaries(t *testing.T) {
	var out bytes.Buffer
	var mirror grpcapi.Mirror
	l := &lineTeller{out: &out, o: linesOptions{every: 10 * time.Second, zone: time.UTC}}
	for i, silence := range []time.Duration{0, 0, 4 * time.Second} {
		wire := watchedBench(uint64(i))
		if i == 1 {
			wire = dangerEvent(1)
		}
		if err := l.heard(time.Duration(i)*6*time.Second, messageOf(&mirror, wire), silence); err != nil {
			t.Fatal(err)
		}
	}
	l.quiet(3*time.Second, true)
	l.quiet(4*time.Second, false)
	want := "14:03:21  HOT     hot sulfide 90.4 °C\n" +
		"14:03:21  DANGER  Hot sulfide 90.4 °C, over its line. Turn the hot plate down now.\n" +
		"14:03:21  HEARD   The hub is heard again, after 4 s of silence.\n" +
		"14:03:21  HOT     hot sulfide 90.4 °C\n" +
		"14:03:21  SILENT  HUB SILENT: nothing heard for 3 s. Nothing here would warn of heat or gas until it is heard again.\n"
	if out.String() != want {
		t.Errorf("printed\n%swant\n%s", out.String(), want)
	}
	l.out = closedPipe{}
	if err := l.heard(time.Minute, messageOf(&mirror, dangerEvent(2)), 0); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("a broken pipe gives %v", err)
	}
}

type closedPipe struct{}

func (closedPipe) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }

// A line of --json is the message as the API has it, whole and on one line.
func TestJSONLineIsTheMessage(t *testing.T) {
	want := dangerEvent(3)
	want.GetAlarmEvent().Why = "two\nlines"
	line, err := jsonLine(want)
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Count(line, []byte("\n")) != 1 || line[len(line)-1] != '\n' || !json.Valid(line) {
		t.Errorf("not one line of JSON: %q", line)
	}
	got := &simmerlinepb.WatchResponse{}
	if err := protojson.Unmarshal(line, got); err != nil || !proto.Equal(got, want) {
		t.Errorf("read back: %v %v", got, err)
	}
	if again, err := jsonLine(want); err != nil || !bytes.Equal(line, again) {
		t.Errorf("the same message gives another line: %q, %q, %v", line, again, err)
	}
}

func TestWatchWithoutAHub(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	nobody := listener.Addr().String()
	_ = listener.Close()
	for _, how := range []string{"--json", "--plain", "--mute"} {
		code, out, said := try("watch", "--hub", nobody, how)
		if code != exitUnreachable || out != "" || !strings.Contains(said, "no hub answers at "+nobody) {
			t.Errorf("%s: code %d, out %q, said %q", how, code, out, said)
		}
	}
	if code, _, _ := try("watch", "--hub", "nonsense"); code != exitWrongUse {
		t.Errorf("a wrong address: code %d", code)
	}
	if code, _, _ := try("watch", "--json", "--plain"); code != exitWrongUse {
		t.Errorf("both ways at once: code %d", code)
	}
}

// alarmDesk stands in for a hub's alarm service.
type alarmDesk struct {
	simmerlinepb.AlarmServiceClient
	asked  *simmerlinepb.AcknowledgeAlarmRequest
	refuse error
}

func (d *alarmDesk) AcknowledgeAlarm(_ context.Context, r *simmerlinepb.AcknowledgeAlarmRequest, _ ...grpc.CallOption) (*simmerlinepb.AcknowledgeAlarmResponse, error) {
	d.asked = r
	if d.refuse != nil {
		return nil, d.refuse
	}
	return &simmerlinepb.AcknowledgeAlarmResponse{Recorded: simmerlinepb.Recorded_RECORDED_SYNCED}, nil
}

func key(r rune) tea.Msg { return tea.KeyPressMsg{Code: r, Text: string(r)} }

// A key on the live screen acknowledges at the hub, and shows how that went.
func TestScreenAcknowledges(t *testing.T) {
	clk := clock.NewManual(time.Hour, time.Time{})
	desk := &alarmDesk{}
	l := &live{
		ctx: t.Context(), alarms: desk, clock: clk, width: 80, height: 24,
		model: screen.NewModel(screen.Options{Name: "Wren", Zone: time.UTC}, clk.SinceBoot()),
	}
	var mirror grpcapi.Mirror
	l.Update(messageOf(&mirror, watchedBench(1)))
	shows := func(text string) {
		t.Helper()
		if drawn := l.View().Content; !strings.Contains(drawn, text) {
			t.Errorf("the screen does not show %q:\n%s", text, drawn)
		}
	}
	shows("over its line. Turn the hot plate down now.")
	_, do := l.Update(key('a'))
	if do == nil {
		t.Fatal("the key does nothing")
	}
	l.Update(do())
	if desk.asked.GetName() != "hot-danger" || desk.asked.GetBy() != "Wren" {
		t.Errorf("the hub was asked %v", desk.asked)
	}
	shows("Acknowledged by Wren: hot-danger. Recorded: synced.")
	desk.refuse = status.Error(codes.FailedPrecondition, "rules: not possible now: hot-danger is acknowledged: there is nothing to acknowledge")
	_, do = l.Update(key('a'))
	l.Update(do())
	shows("Not done: hot-danger is acknowledged")
	clk.Advance(12 * time.Second)
	if _, again := l.Update(tick{}); again == nil {
		t.Error("the ticking ends")
	}
	shows("HUB SILENT since 14:03:21, for 12 s.")
	if _, quit := l.Update(key('q')); quit == nil {
		t.Error("q does not leave")
	}
}
