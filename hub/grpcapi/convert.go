package grpcapi

import (
	"math"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	"simmerline/hub"
	"simmerline/hub/record"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/sensors"
)

// instant is a moment with what the wall clock said then.
type instant struct {
	run    uint64
	offset time.Duration
	wall   time.Time
}

// after says whether i is later than o, whatever their wall clocks say.
func (i instant) after(o instant) bool {
	return i.run > o.run || (i.run == o.run && i.offset > o.offset)
}

func (i instant) wire() *simmerlinepb.Moment {
	return &simmerlinepb.Moment{Run: i.run, Offset: durationpb.New(i.offset), Wall: timestamppb.New(i.wall)}
}

func instantFromWire(m *simmerlinepb.Moment) instant {
	if m == nil {
		return instant{}
	}
	return instant{run: m.GetRun(), offset: m.GetOffset().AsDuration(), wall: m.GetWall().AsTime()}
}

// valueToWire gives nil for a value that holds nothing.
func valueToWire(v sensors.Value) *simmerlinepb.Value {
	switch v.Quantity() {
	case sensors.Temperature:
		return &simmerlinepb.Value{Measured: &simmerlinepb.Value_TemperatureCelsius{TemperatureCelsius: v.Number()}}
	case sensors.GasLevel:
		return &simmerlinepb.Value{Measured: &simmerlinepb.Value_LevelPpm{LevelPpm: v.Number()}}
	case sensors.Contact:
		closed, _ := v.Closed()
		return &simmerlinepb.Value{Measured: &simmerlinepb.Value_Closed{Closed: closed}}
	case sensors.Pressure:
		return &simmerlinepb.Value{Measured: &simmerlinepb.Value_PressureKpa{PressureKpa: v.Number()}}
	default:
		return nil
	}
}

// valueFromWire gives the zero value for nothing, and for what is no finite
// number: a wire may hold one, a value never does.
func valueFromWire(v *simmerlinepb.Value) sensors.Value {
	var quantity sensors.Quantity
	var number float64
	switch m := v.GetMeasured().(type) {
	case *simmerlinepb.Value_TemperatureCelsius:
		quantity, number = sensors.Temperature, m.TemperatureCelsius
	case *simmerlinepb.Value_LevelPpm:
		quantity, number = sensors.GasLevel, m.LevelPpm
	case *simmerlinepb.Value_Closed:
		quantity = sensors.Contact
		if m.Closed {
			number = 1
		}
	case *simmerlinepb.Value_PressureKpa:
		quantity, number = sensors.Pressure, m.PressureKpa
	default:
		return sensors.Value{}
	}
	value, err := sensors.NewValue(quantity, number)
	if err != nil {
		return sensors.Value{}
	}
	return value
}

// readingToWire leaves out the time of a reading that was never heard.
func readingToWire(r sensors.Reading, heard bool) *simmerlinepb.Reading {
	wire := &simmerlinepb.Reading{
		Channel: r.Channel, Value: valueToWire(r.Value),
		Quality: qualities.wire(r.Quality), Reason: reasons.wire(r.Reason),
	}
	if heard {
		wire.HeardOffset = durationpb.New(r.At)
	}
	return wire
}

// readingFromWire gives the reading and its age at the offset now, which is
// negative when it was never heard. What the device sent is not on the wire.
func readingFromWire(wire *simmerlinepb.Reading, now time.Duration) (r sensors.Reading, age time.Duration) {
	r = sensors.Reading{
		Channel: wire.GetChannel(), Value: valueFromWire(wire.GetValue()), Raw: math.NaN(),
		Quality: qualities.native(wire.GetQuality()), Reason: reasons.native(wire.GetReason()),
	}
	if wire.GetHeardOffset() == nil {
		return r, -1
	}
	r.At = wire.GetHeardOffset().AsDuration()
	return r, now - r.At
}

// offsetToWire gives nil where there is none.
func offsetToWire(offset time.Duration, known bool) *durationpb.Duration {
	if !known {
		return nil
	}
	return durationpb.New(offset)
}

func sessionToWire(s hub.Session) *simmerlinepb.Session {
	wire := &simmerlinepb.Session{
		Id: uint64(s.ID), Name: s.Name, Started: sessionMoment(s.Start, s.StartWall),
		StartedHow: sessionHows.wire(s.StartedHow), StartedBy: s.StartedBy, Kept: s.Kept,
	}
	if !s.Open() {
		wire.Ended, wire.EndedHow, wire.EndedBy = sessionMoment(s.End, s.EndWall), sessionHows.wire(s.EndedHow), s.EndedBy
	}
	return wire
}

func sessionMoment(m record.Moment, wall time.Time) *simmerlinepb.Moment {
	return instant{run: uint64(m.Run), offset: m.At, wall: wall}.wire()
}

// SessionFromWire gives a session as a hub knows it.
func SessionFromWire(wire *simmerlinepb.Session) hub.Session {
	start, end := instantFromWire(wire.GetStarted()), instantFromWire(wire.GetEnded())
	return hub.Session{
		Session: record.Session{
			ID: int64(wire.GetId()), Name: wire.GetName(), Start: record.Moment{Run: int64(start.run), At: start.offset},
			StartedHow: sessionHows.native(wire.GetStartedHow()), StartedBy: wire.GetStartedBy(),
			End: record.Moment{Run: int64(end.run), At: end.offset}, EndedHow: sessionHows.native(wire.GetEndedHow()),
			EndedBy: wire.GetEndedBy(), Kept: wire.GetKept(),
		},
		StartWall: start.wall, EndWall: end.wall,
	}
}

// RecordedFromWire gives the grade of safety as a hub knows it.
func RecordedFromWire(wire simmerlinepb.Recorded) hub.Recorded { return recordedGrades.native(wire) }
