package screen

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/charmbracelet/x/ansi"

	"simmerline/hub"
	"simmerline/sensors"
)

var update = flag.Bool("update", false, "write the drawings in testdata anew")

// TestScreens draws states that matter and compares each with its file, which
// is to be looked at when it changes: go test -update writes them.
func TestScreens(t *testing.T) {
	for _, c := range []struct {
		name          string
		width, height int
		options       Options
		story         func(*testing.T) *story
		after         time.Duration // how long nothing has been heard since
		keys          string
	}{
		{name: "calm", width: 80, height: 24, story: calm},
		{name: "calm-wide", width: 132, height: 40, story: calm},
		{name: "bath-danger", width: 80, height: 24, story: overTheLine},
		{name: "fume-danger", width: 80, height: 24, story: fumes},
		{name: "fume-danger-wide", width: 120, height: 36, story: fumes},
		{name: "fume-danger-short", width: 80, height: 12, story: fumes},
		{name: "probe-lost", width: 80, height: 24, story: probeLost},
		{name: "warming-up", width: 80, height: 24, story: warmingUp},
		{name: "hub-silent", width: 80, height: 24, story: fumes, after: 12 * time.Second},
		{name: "hub-silent-calm", width: 80, height: 24, story: calm, after: 4 * time.Second},
		{name: "fahrenheit", width: 80, height: 24, story: overTheLine, options: Options{Units: UnitsFahrenheit}},
		{name: "narrow", width: 46, height: 24, story: overTheLine},
		{name: "narrow-fumes", width: 50, height: 24, story: fumes},
		{name: "asks-for-a-name", width: 80, height: 24, story: fumes, keys: "aWr"},
		{name: "help", width: 80, height: 24, story: calm, keys: "?"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, now := c.story(t).shown(c.options)
			now += c.after
			for _, key := range c.keys {
				m.Key(now, string(key), string(key))
			}
			drawn := m.Render(c.width, c.height, now)
			sized(t, drawn, c.width, c.height)
			compare(t, c.name, ansi.Strip(drawn))
		})
	}
}

// warmingUp has a fume head that is not ready while every bath is cool, after
// the power was out, at a hub that can make no sound.
func warmingUp(t *testing.T) *story {
	s := newStory(t)
	s.values["hot"], s.values["hot-twin"] = 24, 24.2
	for _, cell := range []string{"h2s", "so2", "nh3"} {
		s.faults[cell] = sensors.ReasonWarmingUp
	}
	s.change = func(snapshot *hub.Snapshot) {
		snapshot.Protection = hub.Protection{Missing: []string{"h2s warming up", "so2 warming up", "nh3 warming up"}, ReadyIn: 100 * time.Second}
		snapshot.Start = hub.StartNotice{After: true, Dark: 4 * time.Minute, Means: "The hub was off for 4 minutes, from 13:46: its power may have failed. Nothing was measured and nobody was called in that time. A hot plate that was on may be on again."}
		snapshot.Sound = hub.SoundState{Detail: "this hub can make no sound: no player is installed (aplay, pw-play, paplay) and there is no terminal whose bell could ring"}
		snapshot.Session = nil
		snapshot.Ports[2].Faults.BadChecksum = 3
	}
	return s.run(20, nil)
}

func sized(t *testing.T, drawn string, width, height int) {
	t.Helper()
	rows := strings.Split(drawn, "\n")
	if len(rows) != height {
		t.Errorf("%d rows were drawn for a height of %d", len(rows), height)
	}
	for i, row := range rows {
		if w := ansi.StringWidth(row); w > width {
			t.Errorf("row %d is %d cells wide, of %d: %q", i+1, w, width, ansi.Strip(row))
		}
	}
}

func compare(t *testing.T, name, drawn string) {
	t.Helper()
	var trimmed []string
	for row := range strings.SplitSeq(drawn, "\n") {
		trimmed = append(trimmed, strings.TrimRight(row, " "))
	}
	drawn = strings.Join(trimmed, "\n") + "\n"
	file := filepath.Join("testdata", "screens", name+".txt")
	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(drawn), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v; go test -update writes it", err)
	}
	if drawn != string(want) {
		t.Errorf("%s is drawn otherwise than its file has it; go test -update writes it anew\n%s", name, drawn)
	}
}
