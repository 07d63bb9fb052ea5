//go:build unix

package main

import (
	"fmt"
	"strings"
	"syscall"
	"testing"
	"time"

	"simmerline/hub"
	"simmerline/rules"
)

const restartBench = `
bench: Back room
site: {altitude: 200 m}
ports:
  - name: board
    device: {path: %q}
    protocol: lines
    baud: 115200
    check: required
    channels:
      - {name: hot, quantity: temperature, from: t1}
      - {name: h2s, quantity: gas, gas: h2s, from: h2s, range: -5..100 ppm}
baths:
  - {name: hot-sulfide, label: hot sulfide, kind: sulfide, probes: [hot], range: 55..75 C}
`

// darkFor is how long the hub is left dead: a length of time is what is tested.
const darkFor = 3 * time.Second

// A hub is killed in the middle of a danger and started again over the same
// record; a client watches all the while.
func TestRealTimeKilledHubSaysHowLongItWasDark(t *testing.T) {
	realTime(t)
	b := newBoard(t, "t1=60.0 h2s=0.0")
	b.plug()
	bench, data := writeBenchFile(t, fmt.Sprintf(restartBench, b.path)), t.TempDir()
	environment, played := fakePlayer(t)
	first, address := serveChild(t, environment, bench, data)
	f := followHub(t, address)
	f.at("hot", 60)
	childAnswer(t, "session", "start", "interrupted", "--by", "Maren", "--hub", address)
	b.show("t1=60.0 h2s=7.5")
	f.event("fume-h2s-danger", unacknowledged)
	childAnswer(t, "alarm", "ack", "fume-h2s-danger", "--by", "Ilo", "--hub", address)
	f.event("fume-h2s-danger", acknowledged)
	before := f.mirror.Snapshot()

	killed := time.Now()
	first.signal(syscall.SIGKILL)
	died := time.Now()
	time.Sleep(darkFor)
	again := time.Now()
	second := startChild(t, environment, "serve", "--bench", bench, "--data", data, "--listen", address, "--sound", "aplay")
	second.printed(`watch --hub (\S+)\n`)
	s := f.state("the hub that has come back", func(s *hub.Snapshot) bool { return s.Run == before.Run+1 })
	back := time.Now()

	// What was last written before the end may be some seconds old.
	const lastWritten = 6 * time.Second
	least, most := again.Sub(died), back.Sub(killed)+lastWritten
	if n := s.Start; !n.After || n.Clean || n.Dark < least || n.Dark > most {
		t.Errorf("the start notice is %+v, want %v to %v of dark", n, least, most)
	}
	for _, part := range []string{"The hub was off for " + rules.InWords(s.Start.Dark), "power may have failed", "Nothing was measured and nobody was called", "hot plate that was on may be on again"} {
		if !strings.Contains(s.Start.Means, part) {
			t.Errorf("%q does not say %q", s.Start.Means, part)
		}
	}
	if s.Session == nil || s.Session.Name != "interrupted" {
		t.Errorf("it came back with the session %+v", s.Session)
	}
	f.state("the alarms", func(s *hub.Snapshot) bool {
		return alarmText(s, "hub-was-dark") == "unacknowledged" && alarmText(s, "fume-h2s-danger") == "acknowledged by Ilo"
	})
	f.at("hot", 60)
	if !strings.Contains(played(), "warning.wav") {
		t.Errorf("the dark was not sounded:\n%s", played())
	}
	childAnswer(t, "alarm", "ack", "hub-was-dark", "--by", "Ilo", "--hub", address)
	if e := f.event("hub-was-dark", acknowledged); e.GetBy() != "Ilo" {
		t.Errorf("the dark was acknowledged by %q", e.GetBy())
	}
	f.numbersHaveNoHole()
	second.signal(syscall.SIGTERM)

	review := lookBackOn(t, data)
	if len(review.Dark) != 1 || review.Dark[0].Seconds < least.Seconds() || review.Dark[0].Seconds > most.Seconds() {
		t.Errorf("the review tells of these dark times: %+v", review.Dark)
	}
	if len(review.Alarms) == 0 || review.Alarms[0].Alarm != "fume-h2s-danger" || review.Alarms[0].AcknowledgedBy != "Ilo" || !review.Alarms[0].Stands {
		t.Errorf("the review tells of these alarms: %+v", review.Alarms)
	}
}

// alarmText is how an alarm stands, in the words of the commands.
func alarmText(s *hub.Snapshot, name string) string {
	for _, a := range s.View.Alarms {
		if a.Name == name {
			return stateWords(a)
		}
	}
	return "normal"
}
