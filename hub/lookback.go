package hub

import (
	"context"
	"fmt"

	"simmerline/hub/bench"
	"simmerline/hub/record"
	"simmerline/hub/review"
	"simmerline/rules"
	"simmerline/sensors"
)

// Sessions lists every session of a record, the newest first, with what the
// wall clock showed at its ends.
func Sessions(ctx context.Context, r *record.Reader) ([]Session, error) {
	timeline, err := r.Timeline(ctx)
	if err != nil {
		return nil, err
	}
	kept, err := r.Sessions(ctx)
	if err != nil {
		return nil, err
	}
	sessions := make([]Session, 0, len(kept))
	for _, k := range kept {
		s := Session{Session: k}
		s.StartWall, _ = timeline.Wall(k.Start)
		if !k.Open() {
			s.EndWall, _ = timeline.Wall(k.End)
		}
		sessions = append(sessions, s)
	}
	return sessions, nil
}

// LookBack is what a session came to, with what is needed of the bench to read
// it. Its JSON is what 'review --json' prints.
type LookBack struct {
	Bench string `json:"bench"`
	// BenchChanged: hubs with different bench files ran during the session. The
	// names, ranges and limits are those of the last.
	BenchChanged bool `json:"bench_changed"`
	// Fahrenheit is the bench file's choice for people; the numbers are in °C.
	Fahrenheit bool `json:"show_fahrenheit"`
	review.Summary
	// LimitFrom says whose each limit is, by the name of its bath or gas channel.
	LimitFrom map[string]string `json:"limit_from"`
}

// Review looks back on a session of a record: "latest", its number or its name.
// An open session is looked back on as far as the record goes. Where there is
// none such the error is record.ErrNotFound.
func Review(ctx context.Context, r *record.Reader, session string) (LookBack, error) {
	s, err := r.FindSession(ctx, session)
	if err != nil {
		return LookBack{}, err
	}
	runs, err := r.Runs(ctx)
	if err != nil {
		return LookBack{}, err
	}
	back := LookBack{LimitFrom: map[string]string{}}
	var last record.Run
	for _, run := range runs {
		if run.ID < s.Start.Run || !s.Open() && run.ID > s.End.Run {
			continue
		}
		back.BenchChanged = back.BenchChanged || last.ID != 0 && run.Bench != last.Bench
		last = run
	}
	text, err := r.BenchText(ctx, last.ID)
	if err != nil {
		return LookBack{}, err
	}
	b, faults := bench.Parse(fmt.Sprintf("the bench file kept with run %d", last.ID), []byte(text))
	if len(faults) > 0 {
		return LookBack{}, fmt.Errorf("hub: this version can't read what an earlier one could: %s", faults[0])
	}
	described, err := back.describe(b)
	if err != nil {
		return LookBack{}, err
	}
	back.Summary, err = review.OfSession(ctx, r, s, described)
	return back, err
}

// describe tells a review of a bench as its rules see it: with the setpoints in
// force, and how long a reading counts.
func (back *LookBack) describe(b *bench.Bench) (described review.Bench, err error) {
	back.Bench, back.Fahrenheit = b.Name, b.Units == bench.Fahrenheit
	engine, err := rules.New(b.Setup, 0)
	if err != nil {
		return described, err
	}
	view := engine.View()
	channels := make(map[string]review.Channel)
	for _, c := range view.Channels {
		channels[c.Name] = review.Channel{Name: c.Name, Holds: c.SilentAfter}
		if c.Quantity != sensors.GasLevel {
			continue
		}
		gas := review.Gas{Channel: channels[c.Name], Title: c.Title(), Gas: c.Gas}
		for _, s := range c.Setpoints {
			if s.Priority == rules.Danger && gas.Limit == nil { // they come from the lowest
				limit := sensors.PPM(s.Level)
				gas.Limit = &limit
				back.LimitFrom[c.Name] = s.Whose
			}
		}
		described.Gases = append(described.Gases, gas)
	}
	for _, v := range view.Baths {
		bath := review.Bath{Name: v.Name, Title: v.Title()}
		for _, p := range v.Probes {
			bath.Probes = append(bath.Probes, channels[p])
		}
		if v.HasRange() {
			bath.Range = &review.Span{Low: v.RangeLow, High: v.RangeHigh}
		}
		if len(v.Probes) > 0 {
			bath.Limit = &v.Line
			back.LimitFrom[v.Name] = v.Whose
		}
		described.Baths = append(described.Baths, bath)
	}
	return described, nil
}
