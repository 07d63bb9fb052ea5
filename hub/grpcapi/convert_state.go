package grpcapi

import (
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	"simmerline/hub"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/rules"
	"simmerline/sensors"
)

// stateToWire gives the whole state. It holds nothing that grows with time
// alone: ages and countdowns are offsets, so that a client can keep counting
// and nothing has to be sent while nothing happens.
func stateToWire(s *hub.Snapshot) *simmerlinepb.BenchState {
	v := s.View
	wire := &simmerlinepb.BenchState{
		Advice: &simmerlinepb.Advice{
			Headline: headlines.wire(v.Advice.Headline), Word: v.Advice.Headline.String(),
			Saying: sayingToWire(v.Advice.Saying, v.Advice.Sentence), Alarm: v.Advice.Alarm, KeepAway: v.Advice.KeepAway,
		},
		InUse: proto.Bool(v.InUse),
		Protection: &simmerlinepb.Protection{
			Complete: s.Protection.Complete, Missing: s.Protection.Missing,
			ReadyOffset: offsetToWire(v.At+s.Protection.ReadyIn, s.Protection.ReadyIn > 0),
		},
		Sound: &simmerlinepb.SoundState{
			Able: s.Sound.CanSound, Through: s.Sound.By, Detail: s.Sound.Detail, Sounding: priorities.wire(s.Sound.Now),
		},
		Record: &simmerlinepb.RecordState{
			Recording: s.Record.Recording, Place: s.Record.Place, Detail: s.Record.Fails, ReadingsDropped: s.Record.Dropped,
		},
		Stations: proto.Uint32(uint32(max(s.Stations, 0))),
	}
	for _, b := range v.Baths {
		wire.Baths = append(wire.Baths, bathToWire(b))
	}
	for _, c := range v.Channels {
		wire.Readings = append(wire.Readings, readingToWire(named(c.Reading, c.Name), c.Age >= 0))
	}
	for _, a := range v.Alarms {
		if a.State != rules.Normal {
			wire.Alarms = append(wire.Alarms, alarmToWire(v, a))
		}
	}
	for _, p := range s.Ports {
		wire.Ports = append(wire.Ports, portToWire(p))
	}
	if s.Session != nil {
		wire.Session = sessionToWire(*s.Session)
	}
	if s.Start.After {
		wire.Restart = &simmerlinepb.Restart{
			Clean: s.Start.Clean, Dark: durationpb.New(s.Start.Dark), Sentence: s.Start.Means,
		}
	}
	return wire
}

// named makes sure that a reading of what was never heard still names its channel.
func named(r sensors.Reading, channel string) sensors.Reading {
	r.Channel = channel
	return r
}

func bathToWire(b rules.BathView) *simmerlinepb.BathState {
	wire := &simmerlinepb.BathState{Bath: b.Name, Reading: readingToWire(b.Reading, b.Age >= 0), Hot: b.Hot}
	if in, known := b.InRange(); known {
		wire.InRange = proto.Bool(in)
	}
	if b.HasTrend {
		wire.TrendKelvinPerMinute = proto.Float64(b.PerMinute)
	}
	return wire
}

func portToWire(p sensors.PortStatus) *simmerlinepb.PortStatus {
	f := p.Faults
	return &simmerlinepb.PortStatus{
		Port: p.Port, Device: p.Device, State: portStates.wire(p.State), SinceOffset: durationpb.New(p.Since),
		Detail: p.Detail, Unprotected: p.Unprotected, Reopens: p.Reopens,
		Faults: &simmerlinepb.PortFaults{
			BadChecksum: f.BadChecksum, Malformed: f.Malformed, NotMapped: f.NotMapped, Oversize: f.Oversize,
			NotANumber: f.NotANumber, NoAnswer: f.NoAnswer, Exceptions: f.Exceptions, WrongAnswers: f.WrongAnswers,
		},
	}
}

func portFromWire(wire *simmerlinepb.PortStatus) sensors.PortStatus {
	f := wire.GetFaults()
	return sensors.PortStatus{
		Port: wire.GetPort(), Device: wire.GetDevice(), State: portStates.native(wire.GetState()),
		Since: wire.GetSinceOffset().AsDuration(), Detail: wire.GetDetail(), Unprotected: wire.GetUnprotected(),
		Reopens: wire.GetReopens(),
		Faults: sensors.Faults{
			BadChecksum: f.GetBadChecksum(), Malformed: f.GetMalformed(), NotMapped: f.GetNotMapped(), Oversize: f.GetOversize(),
			NotANumber: f.GetNotANumber(), NoAnswer: f.GetNoAnswer(), Exceptions: f.GetExceptions(), WrongAnswers: f.GetWrongAnswers(),
		},
	}
}

// snapshotFromWire gives a hub's state to a client, as the hub knew it at the
// moment at. Only the alarms that are not normal are in it.
func snapshotFromWire(bench *simmerlinepb.Bench, wire *simmerlinepb.BenchState, at *simmerlinepb.Moment, sequence uint64) *hub.Snapshot {
	now := instantFromWire(at)
	s := &hub.Snapshot{
		Bench: bench.GetName(), Fahrenheit: bench.GetShowFahrenheit(), Run: now.run, At: now.offset, Wall: now.wall,
		Sequence: sequence, View: viewFromWire(bench, wire, now.offset),
		Protection: hub.Protection{Complete: wire.GetProtection().GetComplete(), Missing: wire.GetProtection().GetMissing()},
		Sound: hub.SoundState{
			CanSound: wire.GetSound().GetAble(), By: wire.GetSound().GetThrough(), Detail: wire.GetSound().GetDetail(),
			Now: priorities.native(wire.GetSound().GetSounding()),
		},
		Record: hub.RecordState{
			Recording: wire.GetRecord().GetRecording(), Place: wire.GetRecord().GetPlace(),
			Fails: wire.GetRecord().GetDetail(), Dropped: wire.GetRecord().GetReadingsDropped(),
		},
		Stations: int(wire.GetStations()),
	}
	if ready := wire.GetProtection().GetReadyOffset(); ready != nil {
		s.Protection.ReadyIn = max(ready.AsDuration()-now.offset, 0)
	}
	for _, p := range wire.GetPorts() {
		s.Ports = append(s.Ports, portFromWire(p))
	}
	if wire.GetSession() != nil {
		session := SessionFromWire(wire.GetSession())
		s.Session = &session
	}
	if r := wire.GetRestart(); r != nil {
		s.Start = hub.StartNotice{After: true, Clean: r.GetClean(), Dark: r.GetDark().AsDuration(), Means: r.GetSentence()}
	}
	return s
}
