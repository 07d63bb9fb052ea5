package review

import (
	"context"
	"fmt"
	"math"
	"time"

	"simmerline/hub/record"
)

// Summary is what a stretch of the record came to. A figure that there is none
// of is null.
type Summary struct {
	Session *Session `json:"session,omitempty"` // nil for a stretch that is none
	From    Point    `json:"from"`
	Until   Point    `json:"until"`
	// LengthSeconds is WatchedSeconds and DarkSeconds together.
	LengthSeconds  float64  `json:"length_seconds"`
	WatchedSeconds float64  `json:"watched_seconds"` // while the hub ran
	DarkSeconds    float64  `json:"dark_seconds"`    // while it did not, by the wall clock
	Baths          []Bathed `json:"baths"`
	Gases          []Gassed `json:"gases"`
	Alarms         []Alarm  `json:"alarms"`
	Marks          []Mark   `json:"marks"`
	Dark           []Dark   `json:"dark"`
	Gaps           []Gap    `json:"gaps"`
}

// Session is the session that a summary is of.
type Session struct {
	ID         int64  `json:"id"`
	Name       string `json:"name"`
	StartedHow string `json:"started_how"`
	StartedBy  string `json:"started_by"`
	EndedHow   string `json:"ended_how"` // empty while it is open
	EndedBy    string `json:"ended_by"`
}

// Point is a moment with its wall time.
type Point struct {
	Run           int64     `json:"run"`
	OffsetSeconds float64   `json:"offset_seconds"`
	Wall          time.Time `json:"wall"`
}

// Bathed is what a stretch came to for one bath.
type Bathed struct {
	Bath                  string   `json:"bath"`
	Title                 string   `json:"title"`
	LeastCelsius          *float64 `json:"least_celsius"`
	MeanCelsius           *float64 `json:"mean_celsius"`
	MostCelsius           *float64 `json:"most_celsius"`
	RangeLowCelsius       *float64 `json:"range_low_celsius"`
	RangeHighCelsius      *float64 `json:"range_high_celsius"`
	TimeInRangeSeconds    *float64 `json:"time_in_range_seconds"`
	LimitCelsius          *float64 `json:"limit_celsius"`
	TimeOverLimitSeconds  *float64 `json:"time_over_limit_seconds"`
	KnownSeconds          float64  `json:"known_seconds"`
	NoTrustedValueSeconds float64  `json:"no_trusted_value_seconds"`
	Readings              int64    `json:"good_readings"` // of all its probes
}

// Gassed is what a stretch came to for one gas channel.
type Gassed struct {
	Channel               string   `json:"channel"`
	Title                 string   `json:"title"`
	Gas                   string   `json:"gas"`
	LeastPPM              *float64 `json:"least_ppm"`
	MeanPPM               *float64 `json:"mean_ppm"`
	MostPPM               *float64 `json:"most_ppm"`
	LimitPPM              *float64 `json:"limit_ppm"`
	TimeOverLimitSeconds  *float64 `json:"time_over_limit_seconds"` // over range included
	TimeOverRangeSeconds  float64  `json:"time_over_range_seconds"`
	KnownSeconds          float64  `json:"known_seconds"`
	NoTrustedValueSeconds float64  `json:"no_trusted_value_seconds"`
	Readings              int64    `json:"good_readings"`
}

// Mark is a mark of the stretch.
type Mark struct {
	At   Point  `json:"at"`
	Text string `json:"text"`
	By   string `json:"by"`
}

// Dark is a time in which the hub did not run or slept.
type Dark struct {
	From    Point   `json:"from"`
	Until   Point   `json:"until"`
	Seconds float64 `json:"seconds"`
	Slept   bool    `json:"slept"` // the machine was suspended
}

// Gap is a time in which rows were lost.
type Gap struct {
	From     Point  `json:"from"`
	Until    Point  `json:"until"`
	Why      string `json:"why"`
	Readings int64  `json:"readings_lost"`
	Events   int64  `json:"events_lost"`
}

// OfSession sums up a session.
func OfSession(ctx context.Context, source Source, session record.Session, bench Bench) (Summary, error) {
	timeline, err := source.Timeline(ctx)
	if err != nil {
		return Summary{}, fmt.Errorf("review: %w", err)
	}
	s, err := Of(ctx, source, Stretch(session, timeline), bench)
	s.Session = &Session{
		ID: session.ID, Name: session.Name, StartedHow: string(session.StartedHow), StartedBy: session.StartedBy,
		EndedHow: string(session.EndedHow), EndedBy: session.EndedBy,
	}
	return s, err
}

// Of sums up a stretch of the record. It reads through it once.
func Of(ctx context.Context, source Source, within record.Range, bench Bench) (Summary, error) {
	timeline, err := source.Timeline(ctx)
	if err != nil {
		return Summary{}, fmt.Errorf("review: %w", err)
	}
	v := view{ctx: ctx, source: source, within: within, timeline: timeline}
	for _, part := range []func(*Summary, Bench) error{v.times, v.figures, v.alarms, v.marks, v.gaps} {
		if err := part(&v.summary, bench); err != nil {
			return Summary{}, fmt.Errorf("review: %w", err)
		}
	}
	return v.summary, nil
}

// view is one review in the making.
type view struct {
	ctx      context.Context
	source   Source
	within   record.Range
	timeline record.Timeline
	summary  Summary
}

func (v *view) point(m record.Moment) Point {
	wall, _ := v.timeline.Wall(m)
	return Point{Run: m.Run, OffsetSeconds: seconds(m.At), Wall: wall}
}

func (v *view) times(s *Summary, _ Bench) error {
	s.From, s.Until = v.point(v.within.From), v.point(v.within.Until)
	s.Dark = []Dark{}
	var dark time.Duration
	for _, d := range v.timeline.Dark(v.within) {
		dark += d.Length
		s.Dark = append(s.Dark, Dark{From: v.point(d.From), Until: v.point(d.Until), Seconds: seconds(d.Length), Slept: d.Slept})
	}
	watched := v.timeline.Watched(v.within)
	s.WatchedSeconds, s.DarkSeconds, s.LengthSeconds = seconds(watched), seconds(dark), seconds(watched+dark)
	return nil
}

// figures runs every track of the bench through the readings, once.
func (v *view) figures(s *Summary, bench Bench) error {
	var tracks []*track
	for _, bath := range bench.Baths {
		t := newTrack(bath.Probes...)
		if bath.Range != nil {
			t.low, t.high = float64(bath.Range.Low), float64(bath.Range.High)
		}
		if bath.Limit != nil {
			t.limit = float64(*bath.Limit)
		}
		tracks = append(tracks, t)
	}
	for _, gas := range bench.Gases {
		t := newTrack(gas.Channel)
		if gas.Limit != nil {
			t.limit = float64(*gas.Limit)
		}
		tracks = append(tracks, t)
	}
	if err := v.follow(tracks); err != nil {
		return err
	}
	s.Baths, s.Gases = []Bathed{}, []Gassed{}
	for i, bath := range bench.Baths {
		t := tracks[i]
		b := Bathed{
			Bath: bath.Name, Title: bath.Title, Readings: t.readings,
			LeastCelsius: known(t.least), MeanCelsius: known(t.mean()), MostCelsius: known(t.most),
			RangeLowCelsius: known(t.low), RangeHighCelsius: known(t.high), LimitCelsius: known(t.limit),
			KnownSeconds: seconds(t.known), NoTrustedValueSeconds: rest(s.LengthSeconds, t.known),
		}
		if bath.Range != nil {
			b.TimeInRangeSeconds = known(seconds(t.inRange))
		}
		if bath.Limit != nil {
			b.TimeOverLimitSeconds = known(seconds(t.overLimit))
		}
		s.Baths = append(s.Baths, b)
	}
	for i, gas := range bench.Gases {
		t := tracks[len(bench.Baths)+i]
		g := Gassed{
			Channel: gas.Name, Title: gas.Title, Gas: gas.Gas.String(), Readings: t.readings,
			LeastPPM: known(t.least), MeanPPM: known(t.mean()), MostPPM: known(t.most), LimitPPM: known(t.limit),
			TimeOverRangeSeconds: seconds(t.overRange),
			KnownSeconds:         seconds(t.known), NoTrustedValueSeconds: rest(s.LengthSeconds, t.known),
		}
		if gas.Limit != nil {
			g.TimeOverLimitSeconds = known(seconds(t.overLimit))
		}
		s.Gases = append(s.Gases, g)
	}
	return nil
}

// follow streams the readings of each run's piece to the tracks, beginning
// early enough to know what holds at its start.
func (v *view) follow(tracks []*track) error {
	var names []string
	listeners := map[string][]*track{}
	var longest time.Duration
	for _, t := range tracks {
		for _, channel := range t.channels {
			if listeners[channel.Name] == nil {
				names = append(names, channel.Name)
			}
			listeners[channel.Name] = append(listeners[channel.Name], t)
			longest = max(longest, channel.Holds)
		}
	}
	if len(names) == 0 {
		return nil
	}
	for _, part := range v.timeline.Parts(v.within) {
		for _, t := range tracks {
			t.begin(part.From.At)
		}
		early := part
		early.From.At = max(0, early.From.At-longest)
		if early.Until.Compare(v.within.Until) < 0 {
			early.Until.At++ // the last thing of a run belongs to it
		}
		for reading, err := range v.source.Readings(v.ctx, early, names...) {
			if err != nil {
				return err
			}
			for _, t := range listeners[reading.Channel] {
				t.hear(reading)
			}
		}
		for _, t := range tracks {
			t.advance(part.Until.At)
		}
	}
	return nil
}

func (v *view) marks(s *Summary, _ Bench) error {
	marks, err := v.source.Marks(v.ctx, v.within)
	s.Marks = []Mark{}
	for _, m := range marks {
		s.Marks = append(s.Marks, Mark{At: v.point(m.Moment), Text: m.Text, By: m.By})
	}
	return err
}

func (v *view) gaps(s *Summary, _ Bench) error {
	gaps, err := v.source.Gaps(v.ctx, v.within)
	s.Gaps = []Gap{}
	for _, g := range gaps {
		s.Gaps = append(s.Gaps, Gap{
			From: v.point(record.Moment{Run: g.Run, At: g.From}), Until: v.point(record.Moment{Run: g.Run, At: g.Until}),
			Why: string(g.Kind), Readings: g.Readings, Events: g.Events,
		})
	}
	return err
}

// seconds gives a length in seconds, to a millisecond.
func seconds(d time.Duration) float64 { return d.Round(time.Millisecond).Seconds() }

// rest is what is left of a length.
func rest(length float64, known time.Duration) float64 {
	return max(0, math.Round((length-seconds(known))*1000)/1000)
}

// known gives a figure that there is, and nil for NaN.
func known(figure float64) *float64 {
	if math.IsNaN(figure) {
		return nil
	}
	return &figure
}
