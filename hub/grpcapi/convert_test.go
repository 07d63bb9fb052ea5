package grpcapi

import (
	"math"
	"reflect"
	"slices"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	"simmerline/hub"
	"simmerline/hub/bench"
	"simmerline/hub/record"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/rules"
	"simmerline/sensors"
)

func drawValue(t *rapid.T, q sensors.Quantity) sensors.Value {
	number := rapid.Float64Range(-300, 3000).Draw(t, "number")
	if q == sensors.Contact {
		number = float64(rapid.IntRange(0, 1).Draw(t, "closed"))
	}
	return sensors.MustValue(q, number)
}

func drawReading(t *rapid.T, channel string, q sensors.Quantity, now time.Duration) (sensors.Reading, time.Duration) {
	r := sensors.Reading{
		Channel: channel, Raw: math.NaN(), Quality: rapid.SampledFrom(sensors.Qualities).Draw(t, "quality"),
	}
	switch r.Quality {
	case sensors.QualityUnknown:
		r.Reason = sensors.ReasonNotHeard
		return r, -1
	case sensors.QualityGood, sensors.QualityUncertain:
		r.Value = drawValue(t, q)
	}
	if r.Quality != sensors.QualityGood {
		r.Reason = rapid.SampledFrom(sensors.Reasons[1:]).Draw(t, "reason")
	}
	r.At = time.Duration(rapid.Int64Range(0, int64(now)).Draw(t, "heard"))
	return r, now - r.At
}

func drawTrigger(t *rapid.T) rules.Trigger {
	trigger := rules.Trigger{
		Channel: rapid.StringMatching(`[a-z-]{0,8}`).Draw(t, "channel"), Bath: rapid.StringMatching(`[a-z-]{0,8}`).Draw(t, "bath"),
		Port: rapid.StringMatching(`[a-z-]{0,8}`).Draw(t, "port"), Reason: rapid.SampledFrom(sensors.Reasons).Draw(t, "reason"),
		At: time.Duration(rapid.Int64Range(0, int64(time.Hour)).Draw(t, "at")),
	}
	if rapid.Bool().Draw(t, "has value") {
		trigger.Value = drawValue(t, sensors.Temperature)
		if trigger.HasSetpoint = rapid.Bool().Draw(t, "has setpoint"); trigger.HasSetpoint {
			trigger.Setpoint = rapid.Float64Range(-50, 500).Draw(t, "setpoint")
		}
	}
	return trigger
}

func drawSaying(t *rapid.T) rules.Saying {
	s := rules.Saying{
		Subject: rapid.String().Draw(t, "subject"), Means: rapid.String().Draw(t, "means"), Do: rapid.String().Draw(t, "do"),
	}
	if rapid.Bool().Draw(t, "has figure") {
		s.Figure = drawValue(t, sensors.GasLevel)
	}
	return s
}

func drawAlarm(t *rapid.T, name string) rules.AlarmView {
	return rules.AlarmView{
		Name: name, State: rapid.SampledFrom(rules.States).Draw(t, "state"), Active: rapid.Bool().Draw(t, "active"),
		Priority: rapid.SampledFrom(rules.Priorities).Draw(t, "priority"), Class: rapid.SampledFrom(rules.Classes).Draw(t, "class"),
		Latching: rapid.Bool().Draw(t, "latching"), Saying: drawSaying(t), Whose: rapid.String().Draw(t, "whose"),
		Trigger: drawTrigger(t), FirstOut: rapid.IntRange(0, 20).Draw(t, "first out"),
		RaisedAt:  time.Duration(rapid.Int64Range(-int64(time.Hour), int64(time.Hour)).Draw(t, "raised")),
		ChangedAt: time.Duration(rapid.Int64Range(-int64(time.Hour), int64(time.Hour)).Draw(t, "changed")),
		By:        rapid.String().Draw(t, "by"), Why: rapid.String().Draw(t, "why"),
		ClearsIn: time.Duration(rapid.Int64Range(0, int64(time.Minute)).Draw(t, "clears in")),
	}
}

var drawnWall = time.Date(2026, 3, 5, 13, 0, 0, 0, time.UTC)

// testBench is a bench whose every part can be told on the wire.
func testBench() *bench.Bench {
	channel := func(name string, q sensors.Quantity, gas sensors.Gas) sensors.LineChannel {
		return sensors.LineChannel{Key: name, Channel: sensors.Channel{Name: name, Label: "the " + name, Quantity: q, Gas: gas, Low: -5, High: 250}}
	}
	return &bench.Bench{
		Name: "Pennywhistle Yard", Units: bench.Celsius,
		Ports: []sensors.PortConfig{{
			Name: "bath-wire", Address: sensors.Address{USBSerial: "PY-0001"},
			Lines: &sensors.LinesConfig{Channels: []sensors.LineChannel{
				channel("hot", sensors.Temperature, 0), channel("h2s", sensors.GasLevel, sensors.HydrogenSulfide), channel("hood", sensors.Contact, 0),
			}},
		}},
		Setup: rules.Setup{
			Boiling: 94.6, BoilingFrom: "altitude 1609 m",
			Baths: []rules.Bath{{
				Name: "hot-sulfide", Label: "hot sulfide", Kind: rules.BathSulfide, Probes: []string{"hot"}, RangeLow: 55, RangeHigh: 75,
			}},
			Channels: []rules.Channel{
				{Name: "hot", Label: "the hot", Port: "bath-wire", Quantity: sensors.Temperature, SilentAfter: 10 * time.Second},
				{Name: "h2s", Label: "the h2s", Port: "bath-wire", Quantity: sensors.GasLevel, Gas: sensors.HydrogenSulfide, Noise: 0.1},
				{Name: "hood", Label: "the hood", Port: "bath-wire", Quantity: sensors.Contact, Airflow: true},
			},
		},
	}
}

// drawSnapshot makes a state of testBench in which everything may be anything.
func drawSnapshot(t *rapid.T) *hub.Snapshot {
	setup := testBench().Setup
	now := time.Duration(rapid.Int64Range(0, int64(time.Hour)).Draw(t, "now"))
	s := &hub.Snapshot{
		Bench: "Pennywhistle Yard", Run: rapid.Uint64Range(1, 9).Draw(t, "run"), At: now, Wall: drawnWall.Add(now),
		Sequence: rapid.Uint64Range(0, 1000).Draw(t, "sequence"),
		View: rules.View{
			At: now, Boiling: setup.Boiling, BoilingFrom: setup.BoilingFrom, InUse: rapid.Bool().Draw(t, "in use"),
			Advice: rules.Advice{
				Headline: rapid.SampledFrom(rules.Headlines).Draw(t, "headline"), Saying: drawSaying(t),
				Sentence: rapid.String().Draw(t, "sentence"), Alarm: rapid.String().Draw(t, "alarm"), KeepAway: rapid.Bool().Draw(t, "away"),
			},
		},
		Protection: hub.Protection{Complete: rapid.Bool().Draw(t, "complete"), ReadyIn: time.Duration(rapid.Int64Range(0, 1000).Draw(t, "ready"))},
		Sound: hub.SoundState{
			CanSound: rapid.Bool().Draw(t, "can sound"), By: rapid.String().Draw(t, "by"), Detail: rapid.String().Draw(t, "detail"),
			Now: rapid.SampledFrom(append([]rules.Priority{rules.PriorityUnspecified}, rules.Priorities...)).Draw(t, "sounding"),
		},
		Record: hub.RecordState{
			Recording: rapid.Bool().Draw(t, "recording"), Place: "/data", Fails: rapid.String().Draw(t, "fails"), Dropped: rapid.Uint64().Draw(t, "dropped"),
		},
		Stations: rapid.IntRange(0, 9).Draw(t, "stations"),
	}
	s.Protection.Missing = rapid.SliceOfN(rapid.String(), 1, 3).Draw(t, "missing")
	for _, b := range setup.Baths {
		v := rules.BathView{Bath: b, Hot: rapid.Bool().Draw(t, "hot"), Line: 90, Whose: "the usual line", HasTrend: rapid.Bool().Draw(t, "has trend")}
		v.Reading, v.Age = drawReading(t, "hot", sensors.Temperature, now)
		if v.HasTrend {
			v.PerMinute = rapid.Float64Range(-20, 20).Draw(t, "trend")
		}
		s.View.AnyHot = s.View.AnyHot || v.Hot
		s.View.Baths = append(s.View.Baths, v)
	}
	for _, c := range setup.Channels {
		v := rules.ChannelView{Channel: c}
		v.Reading, v.Age = drawReading(t, c.Name, c.Quantity, now)
		s.View.Channels = append(s.View.Channels, v)
	}
	for _, name := range []string{"a", "b", "c"} {
		a := drawAlarm(t, name)
		s.View.Alarms = append(s.View.Alarms, a)
		if a.State.Sounds() && a.Priority >= rules.Warning {
			s.View.Sounding = max(s.View.Sounding, a.Priority)
		}
	}
	s.Ports = []sensors.PortStatus{{
		Port: "bath-wire", Device: rapid.String().Draw(t, "device"), State: rapid.SampledFrom(sensors.PortStates).Draw(t, "port state"),
		Since: now / 2, Detail: rapid.String().Draw(t, "port detail"), Unprotected: rapid.Bool().Draw(t, "unprotected"), Reopens: rapid.Uint64().Draw(t, "reopens"),
		Faults: sensors.Faults{BadChecksum: 1, Malformed: 2, NotMapped: 3, Oversize: 4, NotANumber: 5, NoAnswer: 6, Exceptions: 7, WrongAnswers: rapid.Uint64().Draw(t, "wrong")},
	}}
	if rapid.Bool().Draw(t, "session") {
		s.Session = &hub.Session{
			Session: record.Session{
				ID: rapid.Int64Range(1, 1000).Draw(t, "session id"), Name: rapid.String().Draw(t, "name"), Start: record.Moment{Run: 1, At: now / 3},
				StartedHow: record.ByItself, StartedBy: rapid.String().Draw(t, "started by"), Kept: rapid.Bool().Draw(t, "kept"),
			},
			StartWall: drawnWall,
		}
	}
	if rapid.Bool().Draw(t, "restarted") {
		s.Start = hub.StartNotice{After: true, Clean: rapid.Bool().Draw(t, "clean"), Dark: time.Minute, Means: rapid.String().Draw(t, "means dark")}
	}
	return s
}

// overTheWire takes a message through its bytes, as a client gets it.
func overTheWire[M proto.Message](t interface{ Fatal(...any) }, m M) M {
	data, err := proto.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	back := m.ProtoReflect().New().Interface()
	if err := proto.Unmarshal(data, back); err != nil {
		t.Fatal(err)
	}
	return back.(M)
}

// same compares states. What a device sent is not on the wire and is NaN on
// both sides, which equals nothing; so it is put aside.
func same(t *rapid.T, got, want *hub.Snapshot) {
	for _, s := range []*hub.Snapshot{got, want} {
		for i := range s.View.Baths {
			s.View.Baths[i].Reading.Raw = 0
		}
		for i := range s.View.Channels {
			s.View.Channels[i].Reading.Raw = 0
		}
	}
	if !reflect.DeepEqual(got, want) {
		t.Fatalf("over the wire and back\n got %+v\nwant %+v", got, want)
	}
}

func onlyStanding(s *hub.Snapshot) *hub.Snapshot {
	s.View.Alarms = slices.DeleteFunc(slices.Clone(s.View.Alarms), func(a rules.AlarmView) bool { return a.State == rules.Normal })
	if len(s.View.Alarms) == 0 {
		s.View.Alarms = nil
	}
	return s
}

func TestAStateGoesOverTheWireAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := drawSnapshot(t)
		described := overTheWire(t, benchToWire(testBench(), want.View))
		state := overTheWire(t, readable(stateToWire(want)))
		got := snapshotFromWire(described, state, momentOf(want).wire(), want.Sequence)
		same(t, got, onlyStanding(want))
	})
}

func TestAnAnnouncementGoesOverTheWireAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := hub.Announcement{
			Sequence: rapid.Uint64().Draw(t, "sequence"), Run: rapid.Uint64Range(1, 9).Draw(t, "run"),
			At: time.Duration(rapid.Int64Range(0, int64(time.Hour)).Draw(t, "at")), Wall: drawnWall,
			Recorded: rapid.SampledFrom(hub.RecordedGrades).Draw(t, "recorded"),
		}
		if rapid.Bool().Draw(t, "alarm") {
			want.Alarm = &rules.Event{
				At: want.At, Alarm: "hot-sulfide-danger", From: rapid.SampledFrom(rules.States).Draw(t, "from"),
				To: rapid.SampledFrom(rules.States).Draw(t, "to"), Cause: rapid.SampledFrom(rules.Causes).Draw(t, "cause"),
				Priority: rapid.SampledFrom(rules.Priorities).Draw(t, "priority"), Class: rapid.SampledFrom(rules.Classes).Draw(t, "class"),
				Subject: rapid.String().Draw(t, "subject"), Trigger: drawTrigger(t), FirstOut: rapid.IntRange(0, 9).Draw(t, "first out"),
				Sentence: rapid.String().Draw(t, "sentence"), By: rapid.String().Draw(t, "by"), Why: rapid.String().Draw(t, "why"),
			}
		} else {
			want.Notice = &hub.Notice{
				Kind: rapid.SampledFrom(hub.NoticeKinds).Draw(t, "kind"), Text: rapid.String().Draw(t, "text"),
				By: rapid.String().Draw(t, "by"), Bath: rapid.String().Draw(t, "bath"), Session: rapid.Uint64().Draw(t, "session"),
			}
		}
		p := progress{sequence: want.Sequence}
		got, ok := AnnouncementFromWire(overTheWire(t, p.announcement(want)))
		if !ok || !reflect.DeepEqual(got, want) {
			t.Fatalf("over the wire and back\n got %+v\nwant %+v", got, want)
		}
	})
}

func TestAnEndedSessionGoesOverTheWireAndBack(t *testing.T) {
	want := hub.Session{
		Session: record.Session{
			ID: 7, Name: "thursday class", Start: record.Moment{Run: 2, At: time.Minute}, StartedHow: record.ByCommand, StartedBy: "owner",
			End: record.Moment{Run: 3, At: time.Hour}, EndedHow: record.ByPowerLoss, Kept: true,
		},
		StartWall: drawnWall, EndWall: drawnWall.Add(time.Hour),
	}
	if got := SessionFromWire(overTheWire(t, sessionToWire(want))); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
}

// A wire can hold what no value may.
func TestWhatIsNoNumberHoldsNothing(t *testing.T) {
	for _, number := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		wire := &simmerlinepb.Value{Measured: &simmerlinepb.Value_LevelPpm{LevelPpm: number}}
		if got := valueFromWire(wire); got.Known() {
			t.Errorf("%v became %v", number, got)
		}
	}
}

// One byte that is no text, as in a file name, would keep back the message.
func TestBytesThatAreNoTextKeepNothingBack(t *testing.T) {
	bad := "tty\xff"
	m := readable(&simmerlinepb.BenchState{
		Ports:      []*simmerlinepb.PortStatus{{Port: "bath-wire", Device: bad}},
		Protection: &simmerlinepb.Protection{Missing: []string{"fine", bad}},
	})
	got := overTheWire(t, m)
	if device := got.GetPorts()[0].GetDevice(); device != "tty\ufffd" {
		t.Errorf("the device is %q", device)
	}
	if missing := got.GetProtection().GetMissing(); missing[0] != "fine" || missing[1] != "tty\ufffd" {
		t.Errorf("missing are %q", missing)
	}
}
