package main

import (
	"encoding/json"
	"net"
	"strings"
	"testing"
)

// step is one command line and all that it may say. HH:MM:SS and the
// like stand for any time.
type step struct {
	line string // its words apart by "|"
	code int
	out  string
	said string
}

// walk runs commands against a hub, one after the other.
func walk(t *testing.T, s *served, steps []step) {
	t.Helper()
	for _, step := range steps {
		code, out, said := try(append(strings.Split(step.line, "|"), "--hub", s.address)...)
		out, said = timeless(out), timeless(said)
		if code != step.code || out != step.out || said != step.said {
			t.Errorf("%s\ncode %d, want %d\ngot  %q\nwant %q\nsaid %q\nwant %q", step.line, code, step.code, out, step.out, said, step.said)
		}
	}
}

func TestAlarmLife(t *testing.T) {
	s := serve(t)
	s.hear(map[string]float64{"hot": 60, "h2s": 6}, "fume-h2s-danger raised")
	walk(t, s, []step{
		{line: "alarm|list", out: `Pennywhistle Yard at HH:MM:SS: LEAVE
Hydrogen sulfide at the fume head 6.0 ppm, over its danger level. Leave now. Air the room from outside. Do not trust your nose.

ALARM            PRIORITY  SINCE     STATE
fume-h2s-danger  danger    HH:MM:SS  unacknowledged

To acknowledge, which stops the sound: simmerline alarm ack ALARM --by WHO
`},
		{line: "alarm|reset|fume-h2s-danger|--by|Ilo", code: exitNotWell,
			said: "simmerline: fume-h2s-danger can't be reset while its condition stands; acknowledge silences it\n"},
		{line: "alarm|ack|fume-h2s-danger|--by|Maren|--why|outside", out: `fume-h2s-danger is now acknowledged by Maren: quiet, and its condition is still true.
Hydrogen sulfide at the fume head 6.0 ppm, over its danger level. Do not go back yet. Air the room from outside.
recorded: synced (it outlives a power cut)
`},
		{line: "alarm|ack|fume-h2s-danger|--by|Ilo", code: exitNotWell,
			said: "simmerline: fume-h2s-danger is acknowledged: there is nothing to acknowledge; Maren did\n"},
		{line: "alarm|ack|fume-h2s-dangr|--by|Ilo", code: exitNotWell,
			said: "simmerline: \"fume-h2s-dangr\" is none of this bench's alarms; 'alarm list' names them\n"},
		{line: "alarm|ack|fume-h2s-danger|--by| ", code: exitWrongUse,
			said: "simmerline: --by is missing: say who asks\nRun \"simmerline alarm ack --help\" for how it is used.\n"},
		{line: "alarm|ack|fume-h2s-danger", code: exitWrongUse,
			said: "simmerline: missing flags: --by=WHO\nRun \"simmerline alarm ack --help\" for how it is used.\n"},
		{line: "alarm|list", out: `Pennywhistle Yard at HH:MM:SS: LEAVE
Hydrogen sulfide at the fume head 6.0 ppm, over its danger level. Do not go back yet. Air the room from outside.

ALARM            PRIORITY  SINCE     STATE
fume-h2s-danger  danger    HH:MM:SS  acknowledged by Maren
`},
	})
}

func TestAlarmListJSON(t *testing.T) {
	s := serve(t)
	s.hear(map[string]float64{"hot": 60, "h2s": 6.5}, "fume-h2s-danger raised")
	code, out, said := try("alarm", "list", "--all", "--json", "--hub", s.address)
	var got alarmListJSON
	if err := json.Unmarshal([]byte(out), &got); err != nil || code != exitWell || said != "" {
		t.Fatalf("code %d, %v, said %q: %s", code, err, said, out)
	}
	if got.Headline != "LEAVE" || !got.KeepAway || got.Bench != "Pennywhistle Yard" {
		t.Errorf("got %+v", got)
	}
	a := got.Alarms[0]
	if a.Name != "fume-h2s-danger" || a.State != "unacknowledged" || !a.Active || a.Priority != "danger" || a.Class != "fume danger" ||
		!a.Latching || a.Channel != "h2s" || a.Value == nil || *a.Value != 6.5 || a.Setpoint == nil || *a.Setpoint != 5 || a.Unit != "ppm" ||
		a.RaisedAt == "" || a.AcknowledgedBy != "" {
		t.Errorf("got %+v", a)
	}
	names := make(map[string]int)
	for _, a := range got.Alarms {
		names[a.Name]++
		if a.Name != "fume-h2s-danger" && (a.State != "normal" || a.RaisedAt != "") {
			t.Errorf("got %+v, want it normal", a)
		}
	}
	for _, name := range []string{"fume-h2s-danger", "hot-sulfide-danger", "hot-lost"} {
		if names[name] != 1 {
			t.Errorf("%s is listed %d times", name, names[name])
		}
	}
}

func TestNoAlarm(t *testing.T) {
	s := serve(t)
	s.hear(map[string]float64{"hot": 20, "h2s": 0})
	walk(t, s, []step{{line: "alarm|list", out: "Pennywhistle Yard at HH:MM:SS: NO ALARM\n"}})
}

// A hub that isn't there, in each way it may not be.
func TestUnreachableHub(t *testing.T) {
	gone, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := gone.Addr().String()
	gone.Close()
	for _, line := range []string{
		"alarm|list", "alarm|ack|x|--by|Ilo", "alarm|reset|x|--by|Ilo", "session|start|--by|Ilo", "session|end|--by|Ilo",
		"session|list", "session|mark|stirred|--by|Ilo", "review|latest",
	} {
		code, out, said := try(append(strings.Split(line, "|"), "--hub", address)...)
		if code != exitUnreachable || out != "" || !strings.Contains(said, "no hub answers at "+address) || !strings.Contains(said, "serve") {
			t.Errorf("%s: code %d, out %q, said %q", line, code, out, said)
		}
	}
	code, _, said := try("alarm", "list", "--hub", "nowhere")
	if code != exitWrongUse || !strings.Contains(said, "host:port") {
		t.Errorf("an address without a port: code %d, said %q", code, said)
	}
}
