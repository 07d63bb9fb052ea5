package screen

import (
	"strings"
	"testing"
	"time"

	"github.com/charmbracelet/x/ansi"
	"pgregory.net/rapid"

	"simmerline/hub"
	"simmerline/rules"
	"simmerline/sensors"
)

func TestEarNoticesSilence(t *testing.T) {
	wall := storyWall
	e := NewEar(time.Minute)
	if _, silent := e.Silent(time.Minute + SilentAfter - 1); silent || e.Calls(time.Minute+SilentAfter) {
		t.Error("a hub counts as silent too soon")
	}
	if quiet, silent := e.Silent(time.Minute + SilentAfter); !silent || quiet != SilentAfter {
		t.Errorf("after %s: silent %t for %s", SilentAfter, silent, quiet)
	}
	if got := e.Hear(2*time.Minute, wall); got != 0 {
		t.Errorf("the wait before the first word counts as a silence of %s", got)
	}
	if got := e.Hear(2*time.Minute+SilentAfter-1, wall); got != 0 {
		t.Errorf("a pause that was not shown counts as a silence of %s", got)
	}
	from := 2*time.Minute + SilentAfter - 1
	if e.Calls(from+CallAfter-1) || !e.Calls(from+CallAfter) {
		t.Errorf("a silence is to be called after %s", CallAfter)
	}
	if got := e.Hear(from+20*time.Second, wall.Add(time.Hour)); got != 20*time.Second || !e.Since().Equal(wall.Add(time.Hour)) {
		t.Errorf("the silence lasted %s, since %s", got, e.Since())
	}
}

// rings counts how often the bell rings in some seconds from now on, while the
// hub says the same each second, or nothing at all.
func rings(m *Model, now *time.Duration, seconds int, said *hub.Snapshot) int {
	count := 0
	for range seconds * 4 {
		if *now%time.Second == 0 && said != nil {
			m.Heard(*now, Said{Snapshot: said})
		}
		if m.Tick(*now) {
			count++
		}
		*now += time.Second / 4
	}
	return count
}

func TestBellTellsDangerFromWarning(t *testing.T) {
	s := overTheLine(t)
	m, now := s.shown(Options{})
	danger := s.snapshot()
	if got := rings(m, &now, 12, danger); got != 12 {
		t.Errorf("a danger rings %d times in 12 s, want 12", got)
	}
	s.command(rules.Acknowledge, "hot-sulfide-danger", "Wren")
	warning := s.snapshot()
	if warning.View.Sounding != rules.Warning {
		t.Fatalf("sounding is %v", warning.View.Sounding)
	}
	if got := rings(m, &now, 12, warning); got != 3 {
		t.Errorf("a warning rings %d times in 12 s, want 3", got)
	}
	s.command(rules.Acknowledge, "hot-sulfide-warning", "Wren")
	quiet := s.snapshot()
	if got := rings(m, &now, 12, quiet); got != 0 {
		t.Errorf("it rings %d times though all is acknowledged", got)
	}
	if got := rings(m, &now, 20, nil); got < 11 || got > 13 {
		t.Errorf("a silent hub rings %d times in 20 s, want one each second from the eighth on", got)
	}
	if got := rings(m, &now, 5, quiet); got != 0 {
		t.Errorf("it rings %d times after the hub was heard again", got)
	}
}

func TestMuteNeverRings(t *testing.T) {
	s := overTheLine(t)
	m, now := s.shown(Options{Mute: true})
	if got := rings(m, &now, 10, s.snapshot()) + rings(m, &now, 20, nil); got != 0 {
		t.Errorf("a mute screen rings %d times", got)
	}
}

func press(m *Model, now time.Duration, keys ...string) (last Do) {
	for _, key := range keys {
		text := ""
		if len(key) == 1 || key[0] >= 0x80 {
			text = key
		}
		last = m.Key(now, key, text)
	}
	return last
}

func TestKeysAcknowledge(t *testing.T) {
	s := fumes(t)
	m, now := s.shown(Options{})
	if got := press(m, now, "a"); got.Kind != DoNothing {
		t.Errorf("it acknowledges without a name: %+v", got)
	}
	// What the key meant when it was pressed counts, whatever speaks by then.
	s.command(rules.Acknowledge, "fume-h2s-danger", "somebody else")
	m.Heard(now, Said{Snapshot: s.snapshot()})
	want := Do{Kind: DoAcknowledge, Alarm: "fume-h2s-danger", By: "Wré n"}
	if got := press(m, now, "W", "r", "x", "backspace", "é", "space", "n", "\x1b", "enter"); got != want {
		t.Errorf("it does %+v, want %+v", got, want)
	}
	want.Alarm = "fume-h2s-warning"
	if got := press(m, now, "a"); got != want {
		t.Errorf("with the name known it does %+v, want %+v", got, want)
	}
	if got := press(m, now, "r"); got.Kind != DoNothing || !strings.Contains(m.note.text, "waits to be reset") {
		t.Errorf("reset does %+v and says %q", got, m.note.text)
	}
	if got := press(m, now+SilentAfter, "a"); got.Kind != DoNothing || !strings.Contains(m.note.text, "silent") {
		t.Errorf("with a silent hub it does %+v and says %q", got, m.note.text)
	}
	if got := press(m, now, "q"); got.Kind != DoQuit {
		t.Errorf("q does %+v", got)
	}
	if press(m, now, "?"); !m.help {
		t.Error("? shows no help")
	}
}

func TestKeysResetOnlyWhatHasCleared(t *testing.T) {
	s := fumes(t)
	for _, name := range []string{"fume-h2s-danger", "fume-h2s-warning", "airflow-lost", "hot-sulfide-warning"} {
		s.command(rules.Acknowledge, name, "Wren")
	}
	s.values["airflow"], s.values["h2s"] = 1, 0.1
	s.run(150, nil)
	m, now := s.shown(Options{Name: "Wren"})
	want := Do{Kind: DoReset, Alarm: "fume-h2s-danger", By: "Wren"}
	if got := press(m, now, "r"); got != want {
		t.Errorf("r does %+v, want %+v", got, want)
	}
}

// The first of the alarms in the list is the one that the hub's advice is about,
// and the others follow in the order in which they would take its place.
func TestAlarmsStandInTheOrderOfAdvice(t *testing.T) {
	s := fumes(t)
	v := s.engine.View()
	if got := standing(v)[0].Name; got != v.Advice.Alarm {
		t.Errorf("%s stands first, and the advice is about %s", got, v.Advice.Alarm)
	}
	v.Advice.Alarm = ""
	if got := standing(v)[0].Name; got != s.engine.View().Advice.Alarm {
		t.Errorf("left to itself the list begins with %s, and the advice is about %s", got, s.engine.View().Advice.Alarm)
	}
}

// While the fumes may be dangerous nothing on the screen asks anybody to the
// bench: not what was said earlier, and not how a port is mended.
func TestNothingSendsAnybodyIntoGas(t *testing.T) {
	s := fumes(t)
	s.silent["hot"], s.silent["cool"] = true, true
	s.step(rules.Input{Ports: []rules.PortChange{{Port: "bath-wire", Gone: true}}})
	s.change = func(snapshot *hub.Snapshot) {
		snapshot.Ports[0] = sensors.PortStatus{Port: "bath-wire", State: sensors.PortMissing, Detail: "plug it in"}
		snapshot.Sound = hub.SoundState{Detail: "connect a loudspeaker"}
	}
	s.run(10, nil)
	m, now := s.shown(Options{})
	for _, after := range []time.Duration{0, 10 * time.Second} {
		drawn := ansi.Strip(m.Render(200, 90, now+after))
		for _, asks := range []string{"hot plate down", "heat down", "Check", "plug it in", "loudspeaker", "Stay in sight", "safe"} {
			if strings.Contains(drawn, asks) {
				t.Errorf("it says %q:\n%s", asks, drawn)
			}
		}
		if !strings.Contains(drawn, "bath-wire") {
			t.Error("the lost port is not shown at all")
		}
	}
}

// Text that people and devices chose can't move the cursor, change colours or
// turn the direction of writing.
func TestTextIsMadePrintable(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"hot sulfide", "hot sulfide"},
		{"a\x1b[2Jb\r\nc\td", "a [2Jb c d"},
		{"\u202eevil\u200b name\u0007", "evil name"},
		{"größe 90 °C", "größe 90 °C"},
		{"bad \xff byte \ufffd", "bad byte"},
	} {
		if got := Printable(c.in); got != c.want {
			t.Errorf("%q becomes %q, want %q", c.in, got, c.want)
		}
	}
}

// Whatever the texts and the size, a drawing has its height, keeps its width,
// and holds no control character of anybody else's.
func TestAnySizeAndText(t *testing.T) {
	base := fumes(t)
	rapid.Check(t, func(t *rapid.T) {
		evil := rapid.StringOf(rapid.RuneFrom([]rune("aZ \x1b[\r\n\a\t\u202e\u0301界°█?"))).Draw(t, "text")
		m := NewModel(Options{Zone: time.UTC, Name: evil}, 0)
		snapshot := base.snapshot()
		snapshot.Bench = evil
		snapshot.Sound, snapshot.Record.Fails = hub.SoundState{Detail: evil}, evil
		snapshot.Start = hub.StartNotice{After: true, Means: evil}
		snapshot.Protection = hub.Protection{Missing: []string{evil, evil}}
		for i := range snapshot.View.Alarms {
			snapshot.View.Alarms[i].By, snapshot.View.Alarms[i].Saying.Means = evil, evil
		}
		snapshot.View.Advice.Saying.Do = evil
		for i := range snapshot.View.Baths {
			snapshot.View.Baths[i].Label, snapshot.View.Baths[i].Whose = evil, evil
		}
		m.Heard(0, Said{Snapshot: snapshot, Announcement: &hub.Announcement{Notice: &hub.Notice{Kind: hub.NoticeMark, Text: evil, By: evil}}})
		m.Answered(0, evil)
		m.Key(0, "a", "a")
		m.Key(0, "x", evil)
		width, height := rapid.IntRange(1, 210).Draw(t, "width"), rapid.IntRange(1, 70).Draw(t, "height")
		now := time.Duration(rapid.IntRange(0, 12).Draw(t, "seconds")) * time.Second
		drawn := m.Render(width, height, now)
		if width >= leastWidth && height >= 3 {
			if rows := strings.Count(drawn, "\n") + 1; rows != height {
				t.Fatalf("%d rows for a height of %d", rows, height)
			}
		}
		for row := range strings.SplitSeq(drawn, "\n") {
			if w := ansi.StringWidth(row); w > width {
				t.Fatalf("a row is %d cells wide, of %d: %q", w, width, row)
			}
			if strings.ContainsAny(ansi.Strip(row), "\x1b\r\a\t\u202e") {
				t.Fatalf("a control character is left in %q", row)
			}
		}
		for _, line := range []string{Summary(snapshot, UnitsOfBench, time.UTC), Line(m.latest[0], UnitsOfBench, snapshot, time.UTC)} {
			if strings.ContainsAny(line, "\x1b\r\n\a\t\u202e") {
				t.Fatalf("a control character is left in %q", line)
			}
		}
	})
}
