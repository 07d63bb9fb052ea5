//go:build unix

package main

import (
	"fmt"
	"os"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"simmerline/hub"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/rules"
	"simmerline/sensors"
	"simmerline/sensors/simbench"
)

// What a demo shows at the speed it has by default, in real time from the start
// of its process.
const (
	liveWithin       = 2 * time.Second
	bathDangerWithin = 10 * time.Second
	fumeDangerWithin = 25 * time.Second
	usualSpeed       = 20
)

// As a user has it, without a flag that matters here. Nothing else of this
// package runs beside it, as it looks at a real watch.
func TestRealTimeDemoShowsWhatItPromises(t *testing.T) {
	if testing.Short() {
		t.Skip("runs for many seconds of real time")
	}
	before, began := slowness(), time.Now()
	d := watchDemo(t)
	slower := max(before, slowness())
	allowed := func(what string, at time.Time, within time.Duration) {
		if took := at.Sub(began); took.Seconds() > within.Seconds()*slower {
			t.Errorf("%s after %v, want at most %.1f times %v", what, took, slower, within)
		}
	}
	allowed("live values were shown", d.live, liveWithin)
	allowed("the bath's danger came", d.bath, bathDangerWithin)
	allowed("the fumes came", d.fumes, fumeDangerWithin)
	t.Logf("live after %v, bath after %v, fumes after %v", d.live.Sub(began), d.bath.Sub(began), d.fumes.Sub(began))
}

// However short the time it is given, a demo ends well.
func TestDemoEndsWhenItsTimeIsOver(t *testing.T) {
	for _, long := range []string{"1ms", "50ms", "900ms"} {
		data := t.TempDir()
		code, out, said := try("demo", "--for", long, "--listen", "127.0.0.1:0", "--sound", "none", "--data", data)
		if code != exitWell || said != "" || !strings.Contains(out, "review latest --data "+data) {
			t.Errorf("--for %s: code %d, out %q, said %q", long, code, out, said)
		}
	}
}

// slowness is how many times slower than alone on this machine a program now
// goes: as many as have work share its processors. The race detector alone makes
// it several times slower.
func slowness() float64 {
	slower := 1.0
	var load float64
	if text, err := os.ReadFile("/proc/loadavg"); err == nil {
		if _, err := fmt.Sscan(string(text), &load); err == nil {
			slower = max(slower, load/float64(runtime.NumCPU()))
		}
	}
	info, ok := debug.ReadBuildInfo()
	if ok && slices.Contains(info.Settings, debug.BuildSetting{Key: "-race", Value: "true"}) {
		slower *= 6
	}
	return slower
}

// At its fastest, by the story's own clock: on a slow machine the story is slow,
// and nothing else.
func TestRealTimeFastDemoKeepsTheStory(t *testing.T) {
	realTime(t)
	watchDemo(t, "--speed", "60")
}

// shown is when a demo showed what, by a real watch.
type shown struct{ live, bath, fumes time.Time }

// watchDemo follows a demo until the fumes, and interrupts it. In the stretch of the story that it plays every sensor is well, so
// nothing may be lost, unheard or doubtful.
func watchDemo(t *testing.T, flags ...string) (when shown) {
	t.Helper()
	demo := startChild(t, nil, append([]string{"demo", "--listen", "127.0.0.1:0", "--sound", "none", "--data", t.TempDir()}, flags...)...)
	address := demo.printed(`watch --hub (\S+)\n`)
	demo.printed(`\n(\d\d:\d\d:\d\d .*°C.*)\n`)
	when.live = time.Now()
	f := followHub(t, address)
	f.each = func(m *simmerlinepb.WatchResponse) {
		if s := f.mirror.Snapshot(); s != nil {
			falseLosses(t, m, s)
		}
	}
	opens := afternoon(t).OpensAt
	promised := func(alarm, says string, within time.Duration) time.Time {
		t.Helper()
		var a rules.AlarmView
		f.state(alarm, func(s *hub.Snapshot) bool {
			i := slices.IndexFunc(s.View.Alarms, func(a rules.AlarmView) bool { return a.Name == alarm })
			if i >= 0 {
				a = s.View.Alarms[i]
			}
			return i >= 0 && a.State == rules.Unacknowledged
		})
		if !strings.Contains(a.Saying.Sentence(), says) {
			t.Errorf("of %s it says %q, not %q", alarm, a.Saying.Sentence(), says)
		}
		if into := a.RaisedAt - opens; into > within*usualSpeed {
			t.Errorf("%s came %v into the story", alarm, into)
		}
		return time.Now()
	}
	when.bath = promised("hot-sulfide-danger", "Turn the hot plate down", bathDangerWithin)
	when.fumes = promised("fume-h2s-danger", "Leave", fumeDangerWithin)
	demo.signal(syscall.SIGINT)
	f.until("the demo's end", func(m *simmerlinepb.WatchResponse) bool {
		return m.GetNotice().GetKind() == simmerlinepb.NoticeKind_NOTICE_KIND_STOPPING
	})
	if code := demo.wait(); code != exitWell {
		t.Errorf("the demo ended with exit code %d:\n%s", code, demo.said.text())
	}
	if text := demo.said.text(); text != "" {
		t.Errorf("the demo complains: %s", text)
	}
	last := f.mirror.Snapshot()
	if last.At >= catAt(t) {
		t.Errorf("the demo went on to %v in the story, where a probe really is lost", last.At)
	}
	for _, p := range last.Ports {
		// A busy machine may answer late; the question is then put again.
		t.Logf("port %s: %+v", p.Port, p.Faults)
	}
	return when
}

// falseLosses finds, in a message and the state it leads to, whatever calls a
// sensor of the demo other than well.
func falseLosses(t *testing.T, m *simmerlinepb.WatchResponse, s *hub.Snapshot) {
	t.Helper()
	for _, c := range s.View.Channels {
		if r := c.Reading; r.Quality != sensors.QualityGood {
			t.Errorf("at %v %s is %v: %v", s.At, c.Name, r.Quality, r.Reason)
		}
	}
	for _, p := range s.Ports {
		if p.State != sensors.PortOpen && p.State != sensors.PortUnknown {
			t.Errorf("at %v port %s is %v: %s", s.At, p.Port, p.State, p.Detail)
		}
	}
	if e := m.GetAlarmEvent(); e != nil {
		for _, word := range []string{"lost", "not-ready", "warming", "record", "dark", "not-known"} {
			// The fan of the story really stops.
			if strings.Contains(e.GetName(), word) && e.GetName() != "airflow-lost" {
				t.Errorf("at %v came %s: %v, %s", s.At, e.GetName(), e.GetState(), e.GetSentence())
			}
		}
	}
	if k := m.GetNotice().GetKind(); k == simmerlinepb.NoticeKind_NOTICE_KIND_GAP || k == simmerlinepb.NoticeKind_NOTICE_KIND_CLOCK_STEPPED {
		t.Errorf("at %v came the notice %s", s.At, m.GetNotice().GetSentence())
	}
}

// catAt is when a sensor of the story first really is lost: the probe's plug is
// pulled.
func catAt(t *testing.T) time.Duration {
	t.Helper()
	for _, step := range afternoon(t).Steps {
		for _, a := range step.Actions {
			if _, pulled := a.(simbench.ProbePlug); pulled {
				return step.At
			}
		}
	}
	t.Fatal("no probe is pulled in the story")
	return 0
}

// afternoon is the story that a demo plays where nothing else is said.
func afternoon(t *testing.T) simbench.Scenario {
	t.Helper()
	story, ok := simbench.Find("afternoon")
	if !ok {
		t.Fatal("there is no afternoon")
	}
	return story
}
