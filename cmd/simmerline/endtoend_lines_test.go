//go:build unix

package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"syscall"
	"testing"

	"simmerline/hub"
	"simmerline/hub/record"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/sensors"
)

const boardBench = `
bench: Back room
site: {altitude: 200 m}
hub: {silent_after: 4 s}
ports:
  - name: board
    device: {path: %q}
    protocol: lines
    baud: 115200
    format: name=value
    check: required
    channels:
      - {name: hot, quantity: temperature, from: t1}
      - {name: cool, quantity: temperature, from: t2}
baths:
  - {name: hot-sulfide, label: hot sulfide, kind: sulfide, probes: [hot], range: 55..75 C}
`

// What a board may send that is no reading, and where each is counted. Whatever
// holds a number holds one that would be a danger.
var rubbish = []struct {
	what  string
	bytes func() string
	count func(sensors.Faults) uint64
}{
	{"a wrong check", func() string { return "t1=97.0 t2=97.0*00\n" }, func(f sensors.Faults) uint64 { return f.BadChecksum }},
	{"no check", func() string { return "t1=97.0 t2=97.0\n" }, func(f sensors.Faults) uint64 { return f.BadChecksum + f.Malformed }},
	{"half a line", func() string { return "t1=97.0 t2=9" }, func(f sensors.Faults) uint64 { return f.BadChecksum + f.Malformed }},
	{"noise", noise, func(f sensors.Faults) uint64 { return f.BadChecksum + f.Malformed + f.Oversize }},
	{"a damaged number", func() string { return checked("t1=9x7.0 t2=97.0") }, func(f sensors.Faults) uint64 { return f.Malformed }},
	{"a number twice", func() string { return checked("t1=97.0 t1=97.0") }, func(f sensors.Faults) uint64 { return f.Malformed }},
	{"names of something else", func() string { return checked("t8=97.0 t9=97.0") }, func(f sensors.Faults) uint64 { return f.NotMapped }},
	{"NaN", func() string { return checked("t1=nan t2=NaN") }, func(f sensors.Faults) uint64 { return f.NotANumber }},
	{"a line without end", func() string { return strings.Repeat("t1=97.0 ", 4000) + "\n" }, func(f sensors.Faults) uint64 { return f.Oversize }},
	{"a flood", func() string { return strings.Repeat("t1=97.0*77\n=97.0\n\xff\xfe\n", 20000) }, func(f sensors.Faults) uint64 { return f.Total() / 20000 }},
}

func noise() string {
	random := rand.NewChaCha8([32]byte{7})
	text := make([]byte, 3000)
	_, _ = random.Read(text) // it never fails
	return string(text) + "\n"
}

func TestRealTimeRubbishOnTheWireIsNeverAReading(t *testing.T) {
	realTime(t)
	b := newBoard(t, "t1=60.0 t2=21.0")
	bench, data := writeBenchFile(t, fmt.Sprintf(boardBench, b.path)), t.TempDir()
	environment, _ := fakePlayer(t)
	serving, address := serveChild(t, environment, bench, data)
	f := followHub(t, address)
	f.each = func(*simmerlinepb.WatchResponse) {
		if s := f.mirror.Snapshot(); s != nil {
			onlyWhatWasSent(t, s)
		}
	}
	s := f.state("the missing port", func(s *hub.Snapshot) bool { return s.Ports[0].State == sensors.PortMissing })
	if detail := s.Ports[0].Detail; !strings.Contains(detail, b.path) || !strings.Contains(detail, "plug") {
		t.Errorf("of the missing port it says %q", detail)
	}
	b.plug()
	f.at("hot", 60)

	for _, r := range rubbish {
		before := f.mirror.Snapshot().Ports[0].Faults
		b.print(r.bytes())
		f.state(r.what+" to be counted", func(s *hub.Snapshot) bool { return r.count(s.Ports[0].Faults) > r.count(before) })
		f.at("hot", 60)
	}
	b.show("t1=1e6 t2=-1e6")
	f.state("what is beyond belief", func(s *hub.Snapshot) bool { return strings.HasSuffix(channelText(s, "hot"), "bad beyond belief") })
	b.show("t1=60.0 t2=21.0")
	f.at("hot", 60)

	b.unplug()
	f.event("board-port-lost", unacknowledged)
	b.plug()
	f.event("board-port-lost", simmerlinepb.AlarmState_ALARM_STATE_RTN_UNACKNOWLEDGED)
	if s := f.state("the reopened port", func(s *hub.Snapshot) bool { return s.Ports[0].State == sensors.PortOpen }); s.Ports[0].Reopens != 1 {
		t.Errorf("it counts %d reopens, want 1", s.Ports[0].Reopens)
	}
	f.at("hot", 60)
	if names := f.raised(danger); len(names) > 0 {
		t.Errorf("rubbish gave the dangers %v\n%s", names, f.portrait())
	}
	serving.signal(syscall.SIGTERM)
	recordHoldsOnlyWhatWasSent(t, data)
}

// sent is what the board sends of each channel, and nothing else.
var sent = map[string]float64{"hot": 60, "cool": 21}

func onlyWhatWasSent(t *testing.T, s *hub.Snapshot) {
	for channel, want := range sent {
		if c, ok := channelCelsius(s, channel); ok && c != want {
			t.Errorf("%s shows %v °C, which nobody sent", channel, c)
		}
	}
}

// recordHoldsOnlyWhatWasSent goes through every reading of a record.
func recordHoldsOnlyWhatWasSent(t *testing.T, data string) {
	t.Helper()
	childAnswer(t, "record", "verify", "--data", data)
	r, err := record.OpenReader(data)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	good, bad := 0, map[sensors.Reason]int{}
	for reading, err := range r.Readings(context.Background(), record.After(record.Moment{})) {
		if err != nil {
			t.Fatal(err)
		}
		switch c, known := reading.Value.Celsius(); {
		case known && float64(c) == sent[reading.Channel] && reading.Quality == sensors.QualityGood:
			good++
		case !known && reading.Quality == sensors.QualityBad:
			bad[reading.Reason]++
		default:
			t.Errorf("the record holds %+v, which nobody sent", reading)
		}
	}
	t.Logf("in the record: %d good readings, bad ones %v", good, bad)
	if good < 20 || bad[sensors.ReasonNotANumber] < 2 || bad[sensors.ReasonOutOfRange] < 2 || bad[sensors.ReasonUnplugged] < 2 {
		t.Errorf("the record holds %d good readings and of bad ones %v", good, bad)
	}
}
