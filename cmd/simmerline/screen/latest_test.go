package screen

import (
	"strings"
	"testing"
	"time"

	"simmerline/hub"
	"simmerline/rules"
)

func TestLines(t *testing.T) {
	s := overTheLine(t)
	s.command(rules.Acknowledge, "hot-sulfide-danger", "Wren")
	s.latest[len(s.latest)-1].Recorded = hub.RecordedNo
	s.latest = append(s.latest, hub.Announcement{Wall: storyWall, Recorded: hub.RecordedWritten, Notice: &hub.Notice{Kind: hub.NoticeMark, Text: "added ammonia", By: "Wren"}})
	var lines []string
	for _, a := range s.latest {
		lines = append(lines, Line(a, UnitsOfBench, s.snapshot(), time.UTC))
	}
	all := strings.Join(lines, "\n")
	for _, want := range []string{
		"14:00:32  WARNING Hot sulfide 81.9 °C, on its way to the line. Turn the hot plate down a little.",
		"14:05:26  DANGER  Hot sulfide 90.1 °C, over its line. Turn the hot plate down now.",
		"14:05:40  ACK     By Wren: Hot sulfide 90.4 °C, over its line.",
		"(not recorded yet)",
		"13:50:00  MARK    by Wren: added ammonia",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("no line has %q:\n%s", want, all)
		}
	}
	if got := Line(s.latest[1], UnitsFahrenheit, s.snapshot(), time.UTC); !strings.Contains(got, "194.2 °F") || strings.Contains(got, "°C") {
		t.Errorf("in °F it says %q", got)
	}
}

func TestSummary(t *testing.T) {
	s := fumes(t)
	s.silent["rinse"] = true
	s.run(15, nil)
	got := Summary(s.snapshot(), UnitsOfBench, time.UTC)
	for _, want := range []string{
		"14:06:35  LEAVE   hot sulfide 90.4 °C ↑ 0.4/min, cool sulfide 21.3 °C, soda 29.8 °C, rinse no number (bad: silent) · H2S 12.1 ppm, ",
		" · hood airflow NOT PROVED",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("%q has no %q", got, want)
		}
	}
}

func TestProtectionWords(t *testing.T) {
	v := fumes(t).engine.View()
	for _, c := range []struct {
		missing []string
		want    string
	}{
		{[]string{"h2s warming up", "so2 warming up", "nh3 warming up"}, "fume head warming up"},
		{[]string{"h2s warming up", "so2 silent", "nh3 warming up"}, "h2s warming up, so2 silent, nh3 warming up"},
		{[]string{"h2s silent"}, "h2s silent"},
		{[]string{"h2s silent", "so2 silent", "nh3 silent", "hot sulfide unplugged"}, "fume head silent, hot sulfide unplugged"},
		{nil, ""},
	} {
		if got := protectionWords(c.missing, v); got != c.want {
			t.Errorf("%q becomes %q, want %q", c.missing, got, c.want)
		}
	}
}

// A hub whose clock runs fast, as in a demo, is not shown to be late for it.
func TestAgeIsJudgedByTheViewersWatch(t *testing.T) {
	s := calm(t)
	for _, speed := range []int{1, 20} {
		m := NewModel(Options{}, 0)
		for i := range 6 {
			snapshot := s.snapshot()
			snapshot.At += time.Duration(i*speed) * time.Second
			m.Heard(time.Duration(i)*time.Second, Said{Snapshot: snapshot})
		}
		limit := time.Duration(speed) * 2 * time.Second
		if m.pace.old(limit) || !m.pace.old(limit+time.Second) {
			t.Errorf("at %d times real speed a reading is not old from %s on", speed, limit)
		}
	}
}
