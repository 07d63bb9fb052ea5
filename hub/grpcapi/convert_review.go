package grpcapi

import (
	"fmt"
	"math"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	"simmerline/hub"
	"simmerline/hub/record"
	"simmerline/hub/review"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/rules"
	"simmerline/sensors"
)

// reviewToWire gives a look back as an answer has it. A summary keeps lengths
// and moments to a millisecond, so that they come back as they were.
func reviewToWire(back hub.LookBack) *simmerlinepb.Review {
	wire := &simmerlinepb.Review{
		Bench: back.Bench, BenchChanged: back.BenchChanged, ShowFahrenheit: back.Fahrenheit,
		From: pointToWire(&back.From), Until: pointToWire(&back.Until),
		Duration: lengthToWire(&back.LengthSeconds), Watched: lengthToWire(&back.WatchedSeconds), Dark: lengthToWire(&back.DarkSeconds),
	}
	if s := back.Session; s != nil {
		wire.Session = &simmerlinepb.Session{
			Id: uint64(s.ID), Name: s.Name, Started: wire.From, StartedHow: sessionHows.wire(record.How(s.StartedHow)),
			StartedBy: s.StartedBy, EndedHow: sessionHows.wire(record.How(s.EndedHow)), EndedBy: s.EndedBy,
		}
		if s.EndedHow != "" {
			wire.Session.Ended = wire.Until
		}
	}
	for _, b := range back.Baths {
		wire.Baths = append(wire.Baths, &simmerlinepb.BathReview{
			Bath: b.Bath, Label: b.Title, LeastCelsius: b.LeastCelsius, MeanCelsius: b.MeanCelsius, MostCelsius: b.MostCelsius,
			RangeLowCelsius: b.RangeLowCelsius, RangeHighCelsius: b.RangeHighCelsius, InRange: lengthToWire(b.TimeInRangeSeconds),
			LimitCelsius: b.LimitCelsius, LimitFrom: back.LimitFrom[b.Bath], OverLimit: lengthToWire(b.TimeOverLimitSeconds),
			Known: lengthToWire(&b.KnownSeconds), NoTrustedValue: lengthToWire(&b.NoTrustedValueSeconds), Readings: uint64(b.Readings),
		})
	}
	for _, g := range back.Gases {
		gas, _ := sensors.ParseGas(g.Gas)
		wire.Gases = append(wire.Gases, &simmerlinepb.GasReview{
			Channel: g.Channel, Label: g.Title, Gas: gases.wire(gas), LeastPpm: g.LeastPPM, MeanPpm: g.MeanPPM, MostPpm: g.MostPPM,
			LimitPpm: g.LimitPPM, LimitFrom: back.LimitFrom[g.Channel], OverLimit: lengthToWire(g.TimeOverLimitSeconds),
			OverRange: lengthToWire(&g.TimeOverRangeSeconds), Known: lengthToWire(&g.KnownSeconds),
			NoTrustedValue: lengthToWire(&g.NoTrustedValueSeconds), Readings: uint64(g.Readings),
		})
	}
	for _, a := range back.Alarms {
		wire.Alarms = append(wire.Alarms, &simmerlinepb.AlarmReview{
			Name: a.Alarm, Subject: a.Subject, Sentence: a.Sentence, Priority: priorities.wire(called(rules.Priorities, a.Priority)),
			Class: classes.wire(called(rules.Classes, a.Class)), Raised: pointToWire(a.Raised), Cleared: pointToWire(a.Cleared),
			Acknowledged: pointToWire(a.Acknowledged), AcknowledgedBy: a.AcknowledgedBy, AcknowledgedWhy: a.AcknowledgedWhy,
			Reset_: pointToWire(a.Reset), ResetBy: a.ResetBy, Stands: a.Stands,
		})
	}
	for _, m := range back.Marks {
		wire.Marks = append(wire.Marks, &simmerlinepb.Mark{Text: m.Text, By: m.By, At: pointToWire(&m.At)})
	}
	for _, d := range back.Dark {
		wire.DarkTimes = append(wire.DarkTimes, &simmerlinepb.DarkTime{
			From: pointToWire(&d.From), Until: pointToWire(&d.Until), Length: lengthToWire(&d.Seconds), Slept: d.Slept,
		})
	}
	for _, g := range back.Gaps {
		wire.Gaps = append(wire.Gaps, &simmerlinepb.RecordGap{
			From: pointToWire(&g.From), Until: pointToWire(&g.Until), Why: g.Why, Readings: uint64(g.Readings), Events: uint64(g.Events),
		})
	}
	return wire
}

// ReviewFromWire gives a look back as a hub makes it.
func ReviewFromWire(wire *simmerlinepb.Review) hub.LookBack {
	back := hub.LookBack{
		Bench: wire.GetBench(), BenchChanged: wire.GetBenchChanged(), Fahrenheit: wire.GetShowFahrenheit(),
		LimitFrom: map[string]string{},
		Summary: review.Summary{
			LengthSeconds: length(wire.GetDuration()), WatchedSeconds: length(wire.GetWatched()), DarkSeconds: length(wire.GetDark()),
			Baths: []review.Bathed{}, Gases: []review.Gassed{}, Alarms: []review.Alarm{}, Marks: []review.Mark{},
			Dark: []review.Dark{}, Gaps: []review.Gap{},
		},
	}
	back.From, back.Until = point(wire.GetFrom()), point(wire.GetUntil())
	if s := wire.GetSession(); s != nil {
		back.Session = &review.Session{
			ID: int64(s.GetId()), Name: s.GetName(), StartedHow: string(sessionHows.native(s.GetStartedHow())), StartedBy: s.GetStartedBy(),
			EndedHow: string(sessionHows.native(s.GetEndedHow())), EndedBy: s.GetEndedBy(),
		}
	}
	for _, b := range wire.GetBaths() {
		back.Baths = append(back.Baths, review.Bathed{
			Bath: b.GetBath(), Title: b.GetLabel(), LeastCelsius: b.LeastCelsius, MeanCelsius: b.MeanCelsius, MostCelsius: b.MostCelsius,
			RangeLowCelsius: b.RangeLowCelsius, RangeHighCelsius: b.RangeHighCelsius, TimeInRangeSeconds: lengthIf(b.GetInRange()),
			LimitCelsius: b.LimitCelsius, TimeOverLimitSeconds: lengthIf(b.GetOverLimit()),
			KnownSeconds: length(b.GetKnown()), NoTrustedValueSeconds: length(b.GetNoTrustedValue()), Readings: int64(b.GetReadings()),
		})
		if b.LimitCelsius != nil {
			back.LimitFrom[b.GetBath()] = b.GetLimitFrom()
		}
	}
	for _, g := range wire.GetGases() {
		back.Gases = append(back.Gases, review.Gassed{
			Channel: g.GetChannel(), Title: g.GetLabel(), Gas: gases.native(g.GetGas()).String(),
			LeastPPM: g.LeastPpm, MeanPPM: g.MeanPpm, MostPPM: g.MostPpm, LimitPPM: g.LimitPpm,
			TimeOverLimitSeconds: lengthIf(g.GetOverLimit()), TimeOverRangeSeconds: length(g.GetOverRange()),
			KnownSeconds: length(g.GetKnown()), NoTrustedValueSeconds: length(g.GetNoTrustedValue()), Readings: int64(g.GetReadings()),
		})
		if g.LimitPpm != nil {
			back.LimitFrom[g.GetChannel()] = g.GetLimitFrom()
		}
	}
	for _, a := range wire.GetAlarms() {
		back.Alarms = append(back.Alarms, review.Alarm{
			Alarm: a.GetName(), Subject: a.GetSubject(), Sentence: a.GetSentence(), Priority: priorities.native(a.GetPriority()).String(),
			Class: classes.native(a.GetClass()).String(), Raised: pointIf(a.GetRaised()), Cleared: pointIf(a.GetCleared()),
			Acknowledged: pointIf(a.GetAcknowledged()), AcknowledgedBy: a.GetAcknowledgedBy(), AcknowledgedWhy: a.GetAcknowledgedWhy(),
			Reset: pointIf(a.GetReset_()), ResetBy: a.GetResetBy(), Stands: a.GetStands(),
		})
	}
	for _, m := range wire.GetMarks() {
		back.Marks = append(back.Marks, review.Mark{At: point(m.GetAt()), Text: m.GetText(), By: m.GetBy()})
	}
	for _, d := range wire.GetDarkTimes() {
		back.Dark = append(back.Dark, review.Dark{
			From: point(d.GetFrom()), Until: point(d.GetUntil()), Seconds: length(d.GetLength()), Slept: d.GetSlept(),
		})
	}
	for _, g := range wire.GetGaps() {
		back.Gaps = append(back.Gaps, review.Gap{
			From: point(g.GetFrom()), Until: point(g.GetUntil()), Why: g.GetWhy(), Readings: int64(g.GetReadings()), Events: int64(g.GetEvents()),
		})
	}
	return back
}

// pointToWire gives nil for none.
func pointToWire(p *review.Point) *simmerlinepb.Moment {
	if p == nil {
		return nil
	}
	return instant{run: uint64(p.Run), offset: span(p.OffsetSeconds), wall: p.Wall}.wire()
}

func point(wire *simmerlinepb.Moment) review.Point {
	at := instantFromWire(wire)
	return review.Point{Run: int64(at.run), OffsetSeconds: at.offset.Seconds(), Wall: at.wall}
}

func pointIf(wire *simmerlinepb.Moment) *review.Point {
	if wire == nil {
		return nil
	}
	p := point(wire)
	return &p
}

// span is a length that a summary has in seconds, to a millisecond.
func span(seconds float64) time.Duration {
	return time.Duration(math.Round(seconds*1e3)) * time.Millisecond
}

// lengthToWire gives nil for none.
func lengthToWire(seconds *float64) *durationpb.Duration {
	if seconds == nil {
		return nil
	}
	return durationpb.New(span(*seconds))
}

func length(wire *durationpb.Duration) float64 { return wire.AsDuration().Seconds() }

func lengthIf(wire *durationpb.Duration) *float64 {
	if wire == nil {
		return nil
	}
	seconds := length(wire)
	return &seconds
}

// called finds the member of an enumeration by its word; its zero for no such.
func called[N fmt.Stringer](members []N, word string) (member N) {
	for _, m := range members {
		if m.String() == word {
			return m
		}
	}
	return member
}
