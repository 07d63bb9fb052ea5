//go:build unix

package main

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"syscall"
	"testing"
	"time"

	"simmerline/hub"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/sensors"
	"simmerline/sensors/modbus/peertest"
)

// The tests of this file and its siblings run the program as people do, over
// real pseudo-terminals, and so in real time.

// A register map that has nothing of the demo's: other functions, types, unit
// addresses and places. The devices are programs around libmodbus.
const transmitterBench = `
bench: Back room
site: {altitude: 1609 m}
hub: {silent_after: 3 s}
ports:
  - name: transmitter
    device: {path: %q}
    protocol: modbus
    baud: 9600
    parity: none
    stop_bits: 2
    unit: 42
    every: 200 ms
    timeout: 500 ms
    channels:
      - {name: hot, quantity: temperature, function: 3, register: 100, type: float32, word_order: low-first, range: -20..150 C}
  - name: cells
    device: {path: %q}
    protocol: modbus
    baud: 38400
    parity: odd
    unit: 5
    every: 200 ms
    timeout: 500 ms
    channels:
      - {name: h2s, quantity: gas, gas: h2s, function: 3, register: 310, type: int16, scale: 0.05, range: "-5..50 ppm", noise: 0.1 ppm}
      - {name: hood-air, quantity: contact, function: 1, register: 7, role: airflow}
baths:
  - {name: hot-sulfide, label: hot sulfide, kind: sulfide, probes: [hot], range: 55..75 C}
`

const (
	unacknowledged = simmerlinepb.AlarmState_ALARM_STATE_UNACKNOWLEDGED
	acknowledged   = simmerlinepb.AlarmState_ALARM_STATE_ACKNOWLEDGED
	danger         = simmerlinepb.AlarmPriority_ALARM_PRIORITY_DANGER
	warning        = simmerlinepb.AlarmPriority_ALARM_PRIORITY_WARNING
)

// realTime marks a test that runs in real time, beside others like it.
func realTime(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("runs for many seconds of real time")
	}
	t.Parallel()
}

// transmitters are the two devices of transmitterBench.
type transmitters struct{ hot, cells *peertest.Device }

// set gives the temperature, and the gas in steps of the register.
func (d transmitters) set(celsius float32, steps int16) {
	d.hot.SetHoldingFloat(100, celsius, true)
	d.cells.SetHolding(310, uint16(steps))
}

func TestRealTimeFromBytesToAlarmToReview(t *testing.T) {
	realTime(t)
	d := transmitters{peertest.Start(t, 42), peertest.Start(t, 5)}
	d.set(60, -2) // a cell that has drifted a little below zero: -0.1 ppm
	d.cells.SetCoil(7, true)
	bench, data := writeBenchFile(t, fmt.Sprintf(transmitterBench, d.hot.Path, d.cells.Path)), t.TempDir()
	environment, played := fakePlayer(t)
	serving, address := serveChild(t, environment, bench, data)
	f := followHub(t, address)
	f.at("hot", 60)
	f.state("the gas and the airflow", func(s *hub.Snapshot) bool {
		return channelText(s, "h2s") == "-0.10 ppm good" && channelText(s, "hood-air") == "closed good"
	})
	childAnswer(t, "session", "start", "end to end", "--by", "Maren", "--hub", address)

	over := d.overTheLine(t, f, address)
	if names := f.raised(danger); len(names) != 1 || !strings.Contains(played(), "danger.wav") {
		t.Errorf("dangers %v; played:\n%s", names, played())
	}
	d.lostAndFound(t, f)
	if names := f.raised(danger); len(names) != 1 {
		t.Errorf("91 °C and three lost sensors gave the dangers %v, want one\n%s", names, f.portrait())
	}

	childAnswer(t, "session", "end", "--by", "Maren", "--hub", address)
	serving.signal(syscall.SIGTERM)
	if code := serving.wait(); code != exitWell {
		t.Errorf("serve ended with exit code %d:\n%s", code, serving.said.text())
	}
	over.judge(t, lookBackOn(t, data))
}

// overTheLine heats the bath to 91 °C, has the danger acknowledged, and lets it
// cool again.
func (d transmitters) overTheLine(t *testing.T, f *hubFollower, address string) (over span) {
	t.Helper()
	over.after = time.Now()
	d.set(91, 12) // 0.6 ppm
	over.by = f.at("hot", 91)
	e := f.event("hot-sulfide-danger", unacknowledged)
	if e.GetPriority() != danger || e.GetTrigger().GetChannel() != "hot" || e.GetTrigger().GetBath() != "hot-sulfide" ||
		e.GetTrigger().GetValue().GetTemperatureCelsius() != 91 || e.GetTrigger().GetSetpoint().GetTemperatureCelsius() != 90 ||
		e.GetPreviousState() != simmerlinepb.AlarmState_ALARM_STATE_NORMAL || !strings.Contains(e.GetSentence(), "91") {
		t.Errorf("the danger's event is %v", e)
	}
	childAnswer(t, "alarm", "ack", "hot-sulfide-danger", "--by", "Ilo", "--why", "plate turned down", "--hub", address)
	if e := f.event("hot-sulfide-danger", acknowledged); e.GetBy() != "Ilo" || e.GetWhy() != "plate turned down" {
		t.Errorf("the acknowledge's event is %v", e)
	}
	over.endAfter = time.Now()
	d.set(60, 0)
	over.endBy = f.at("hot", 60)
	f.event("hot-sulfide-danger", simmerlinepb.AlarmState_ALARM_STATE_NORMAL)
	return over
}

// lostAndFound loses the thermometer in three ways, each while its registers
// hold what would be a danger, and finds it again.
func (d transmitters) lostAndFound(t *testing.T, f *hubFollower) {
	t.Helper()
	for _, loss := range []struct {
		how         string
		lose, mend  func()
		reason      sensors.Reason
		countsFault func(sensors.Faults) uint64
	}{
		{
			"wrong CRC", func() { d.hot.Corrupt(math.MaxInt32); d.set(96, 0) }, func() { d.set(60, 0); d.hot.Corrupt(0) },
			sensors.ReasonSilent, func(f sensors.Faults) uint64 { return f.BadChecksum },
		},
		{
			"NaN", func() { d.set(float32(math.NaN()), 0) }, func() { d.set(60, 0) },
			sensors.ReasonNotANumber, func(f sensors.Faults) uint64 { return f.NotANumber },
		},
		{
			"pulled plug", func() { d.hot.Unplug(); d.set(96, 0) }, func() { d.set(60, 0); d.hot.Plug() },
			sensors.ReasonUnplugged, func(sensors.Faults) uint64 { return 1 },
		},
	} {
		// What is in flight when the register changes must not be taken for a leak.
		f.each = func(m *simmerlinepb.WatchResponse) {
			s := f.mirror.Snapshot()
			if c, ok := channelCelsius(s, "hot"); ok && c != 60 {
				t.Errorf("%s: hot shows %v °C", loss.how, c)
			}
		}
		loss.lose()
		e := f.event("hot-lost", unacknowledged)
		if e.GetPriority() != warning || e.GetTrigger().GetChannel() != "hot" {
			t.Errorf("%s: the loss's event is %v", loss.how, e)
		}
		s := f.state(loss.how, func(s *hub.Snapshot) bool {
			return strings.HasSuffix(channelText(s, "hot"), "bad "+loss.reason.String())
		})
		if _, known := channelCelsius(s, "hot"); known {
			t.Errorf("%s: the lost channel shows a number: %s", loss.how, channelText(s, "hot"))
		}
		f.state(loss.how+" counted", func(s *hub.Snapshot) bool {
			return loss.countsFault(s.Ports[0].Faults) > 0
		})
		loss.mend()
		f.event("hot-lost", simmerlinepb.AlarmState_ALARM_STATE_RTN_UNACKNOWLEDGED)
		f.at("hot", 60)
		f.each = nil
	}
}

// span brackets a stretch of time: it began between after and by, and ended
// between endAfter and endBy.
type span struct{ after, by, endAfter, endBy time.Time }

func (s span) least() float64 { return s.endAfter.Sub(s.by).Seconds() }
func (s span) most() float64  { return s.endBy.Sub(s.after).Seconds() }

// channelText gives a channel's value and how far it may be trusted.
func channelText(s *hub.Snapshot, channel string) string {
	for _, c := range s.View.Channels {
		if c.Name == channel {
			return strings.TrimSpace(fmt.Sprintf("%v %v %v", c.Reading.Value, c.Reading.Quality, c.Reading.Reason))
		}
	}
	return ""
}

// lookBackOn is what `review latest --json` says of a record, whose files
// `record verify` must find whole.
func lookBackOn(t *testing.T, data string) (back hub.LookBack) {
	t.Helper()
	childAnswer(t, "record", "verify", "--data", data)
	text := childAnswer(t, "review", "latest", "--json", "--data", data)
	if err := json.Unmarshal([]byte(text), &back); err != nil {
		t.Fatalf("review printed %s: %v", text, err)
	}
	return back
}

// judge holds a review against what was injected.
func (s span) judge(t *testing.T, back hub.LookBack) {
	t.Helper()
	if back.Session == nil || back.Session.Name != "end to end" || back.Session.EndedBy != "Maren" || len(back.Baths) != 1 || len(back.Gases) != 1 {
		t.Fatalf("the review is of %+v", back)
	}
	number := func(what string, got *float64, least, most float64) {
		t.Helper()
		const rounding = 0.002
		if got == nil || *got < least-rounding || *got > most+rounding {
			t.Errorf("%s is %v, want %.3f to %.3f", what, orNone(got), least, most)
		}
	}
	bath, gas := back.Baths[0], back.Gases[0]
	number("the least temperature", bath.LeastCelsius, 60, 60)
	number("the most", bath.MostCelsius, 91, 91)
	number("the mean", bath.MeanCelsius, 60.001, 90.999)
	number("the limit", bath.LimitCelsius, 90, 90)
	number("the time over the limit", bath.TimeOverLimitSeconds, s.least(), s.most())
	number("the least gas", gas.LeastPPM, -0.1, -0.1)
	number("the most gas", gas.MostPPM, 0.6, 0.6)
	number("the time over the gas limit", gas.TimeOverLimitSeconds, 0, 0)
	raised := map[string]int{}
	for _, a := range back.Alarms {
		raised[a.Alarm]++
		if a.Alarm != "hot-sulfide-danger" {
			continue
		}
		if a.Priority != "danger" || a.AcknowledgedBy != "Ilo" || a.AcknowledgedWhy != "plate turned down" || a.Acknowledged == nil || a.Cleared == nil || a.Stands {
			t.Errorf("the danger is told as %+v", a)
		}
		if a.Raised == nil || a.Raised.Wall.Before(s.after) || a.Raised.Wall.After(s.endAfter) {
			t.Errorf("the danger was raised at %+v", a.Raised)
		}
	}
	if raised["hot-sulfide-danger"] != 1 || raised["hot-lost"] != 3 {
		t.Errorf("the review tells of these raisings: %v", raised)
	}
}

func orNone(f *float64) any {
	if f == nil {
		return "none"
	}
	return *f
}
