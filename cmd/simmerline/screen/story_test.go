package screen

import (
	"testing"
	"time"

	"simmerline/hub"
	"simmerline/hub/bench"
	"simmerline/hub/record"
	"simmerline/rules"
	"simmerline/sensors"
	"simmerline/sensors/simbench"
)

// story drives the real rules over the demo's bench, so that what the tests
// draw is what a hub would say.
type story struct {
	t      *testing.T
	bench  *bench.Bench
	engine *rules.Engine
	now    time.Duration
	values map[string]float64        // by channel
	faults map[string]sensors.Reason // channels that are bad or uncertain
	silent map[string]bool           // channels that say nothing
	latest []hub.Announcement
	change func(*hub.Snapshot)
}

// storyWall is the hub's clock at offset 0.
var storyWall = time.Date(2025, time.March, 6, 13, 50, 0, 0, time.UTC)

func newStory(t *testing.T) *story {
	t.Helper()
	b, faults := bench.Parse("pennywhistle.yaml", simbench.BenchFile())
	if len(faults) > 0 {
		t.Fatalf("the demo's bench has faults: %v", faults)
	}
	engine, err := rules.New(b.Setup, 0)
	if err != nil {
		t.Fatal(err)
	}
	return &story{
		t: t, bench: b, engine: engine,
		values: map[string]float64{
			"hot": 67.6, "hot-twin": 68.1, "cool": 21.3, "soda": 29.8, "rinse": 19.7,
			"h2s": 0.42, "so2": 0.02, "nh3": 3.1, "airflow": 1,
		},
		faults: map[string]sensors.Reason{}, silent: map[string]bool{},
	}
}

// run lets seconds pass; change moves the values each second.
func (s *story) run(seconds int, change func(second int)) *story {
	s.t.Helper()
	for i := range seconds {
		if change != nil {
			change(i)
		}
		s.now += time.Second
		in := rules.Input{Facts: &rules.Facts{CanCall: true}}
		for _, p := range s.bench.Ports {
			for _, c := range p.Channels() {
				if s.silent[c.Name] {
					continue
				}
				raw := s.values[c.Name]
				if c.Scale != 0 {
					raw /= c.Scale
				}
				r := c.Convert(s.now, raw)
				switch reason := s.faults[c.Name]; reason {
				case sensors.ReasonNone:
				case sensors.ReasonWarmingUp, sensors.ReasonPowerOnValue:
					r.Quality, r.Reason = sensors.QualityUncertain, reason
				default:
					r = c.Fault(s.now, raw, reason)
				}
				in.Readings = append(in.Readings, r)
			}
		}
		s.step(in)
	}
	return s
}

func (s *story) step(in rules.Input) {
	s.t.Helper()
	events, err := s.engine.Step(s.now, in)
	if err != nil {
		s.t.Fatal(err)
	}
	for i := range events {
		s.latest = append(s.latest, hub.Announcement{
			Sequence: uint64(len(s.latest) + 1), Run: 1, At: s.now, Wall: storyWall.Add(s.now),
			Alarm: &events[i], Recorded: hub.RecordedWritten,
		})
	}
}

func (s *story) command(kind rules.CommandKind, alarm, by string) {
	s.t.Helper()
	s.step(rules.Input{Command: &rules.Command{Kind: kind, Alarm: alarm, By: by}})
}

// snapshot is the state as a hub would give it to a client.
func (s *story) snapshot() *hub.Snapshot {
	snapshot := &hub.Snapshot{
		Bench: s.bench.Name, Run: 1, At: s.now, Wall: storyWall.Add(s.now), Sequence: uint64(len(s.latest)),
		View: s.engine.View(), Protection: hub.Protection{Complete: true},
		Sound:  hub.SoundState{CanSound: true, By: "aplay"},
		Record: hub.RecordState{Recording: true, Place: "/data"},
		Session: &hub.Session{
			Session:   record.Session{ID: 1, Name: "2025-03-06 13:08", StartedHow: record.ByItself},
			StartWall: time.Date(2025, time.March, 6, 13, 8, 0, 0, time.UTC),
		},
		Stations: 1,
	}
	for _, p := range s.bench.Ports {
		snapshot.Ports = append(snapshot.Ports, sensors.PortStatus{Port: p.Name, Device: "/dev/ttyUSB0", State: sensors.PortOpen})
	}
	if s.change != nil {
		s.change(snapshot)
	}
	return snapshot
}

// shown gives a model that has listened to the story for a while, at the moment
// of its clock that is returned.
func (s *story) shown(o Options) (*Model, time.Duration) {
	o.Zone = time.UTC
	const began = time.Hour // of the viewer's own clock
	m, now := NewModel(o, began), began
	for i := range 5 {
		before := s.snapshot()
		before.At -= time.Duration(5-i) * time.Second
		before.Wall = before.Wall.Add(-time.Duration(5-i) * time.Second)
		m.Heard(now, Said{Snapshot: before})
		now += time.Second
	}
	for i := range s.latest {
		m.Heard(now, Said{Snapshot: s.snapshot(), Announcement: &s.latest[i]})
	}
	m.Heard(now, Said{Snapshot: s.snapshot()})
	return m, now
}

// The states that the tests draw.

func calm(t *testing.T) *story { return newStory(t).run(100, nil) }

// overTheLine lets the hot sulfide warm until it is over its line.
func overTheLine(t *testing.T) *story {
	s := newStory(t).run(120, nil)
	return s.run(820, func(i int) {
		s.values["hot"] = min(67.6+float64(i)*0.028, 90.4)
		s.values["hot-twin"] = s.values["hot"] - 0.3
	})
}

// fumes lets the hood's fan stop while the bath is over its line.
func fumes(t *testing.T) *story {
	s := overTheLine(t)
	s.command(rules.Acknowledge, "hot-sulfide-danger", "Wren")
	s.values["airflow"] = 0
	return s.run(40, func(i int) { s.values["h2s"] = 0.4 + float64(i)*0.3 })
}

// probeLost pulls the hot probe's plug: its twin carries on.
func probeLost(t *testing.T) *story {
	s := calm(t)
	s.silent["hot"], s.silent["cool"] = true, true
	s.change = func(snapshot *hub.Snapshot) {
		snapshot.Ports[0] = sensors.PortStatus{
			Port: "bath-wire", State: sensors.PortMissing,
			Detail: "no adapter with USB serial number PW-0001 is plugged in; plug it in",
		}
	}
	s.step(rules.Input{Ports: []rules.PortChange{{Port: "bath-wire", Gone: true}}})
	return s.run(12, nil)
}
