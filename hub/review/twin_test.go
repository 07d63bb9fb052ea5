package review

import (
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"simmerline/hub/record"
	"simmerline/sensors"
)

// TestFiguresAgainstTheirTwin compares the figures with a plain count of every
// second, each looked up afresh in the list of all readings.
func TestFiguresAgainstTheirTwin(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		holds := time.Duration(rapid.IntRange(1, 12).Draw(rt, "holds")) * time.Second
		probes := []string{"a", "b"}[:rapid.IntRange(1, 2).Draw(rt, "probes")]
		lasts := []int{rapid.IntRange(0, 40).Draw(rt, "first run"), rapid.IntRange(0, 40).Draw(rt, "second run")}
		timeline := record.NewTimeline([]record.Run{
			{ID: 1, Wall: noon, Last: time.Duration(lasts[0]) * time.Second},
			{ID: 2, Wall: noon.Add(time.Hour), Last: time.Duration(lasts[1]) * time.Second},
		}, nil)
		var readings []record.Reading
		for run := range 2 {
			for range rapid.IntRange(0, 25).Draw(rt, "readings") {
				when := at(int64(run+1), float64(rapid.IntRange(0, lasts[run]).Draw(rt, "at")))
				readings = append(readings, drawReading(rt, rapid.SampledFrom(probes).Draw(rt, "probe"), when))
			}
		}
		slices.SortStableFunc(readings, func(a, b record.Reading) int { return a.Moment().Compare(b.Moment()) })
		within := record.Range{
			From:  at(1, float64(rapid.IntRange(0, lasts[0]).Draw(rt, "from"))),
			Until: at(2, float64(rapid.IntRange(0, lasts[1]).Draw(rt, "until"))),
		}
		source := memory{timeline: timeline, readings: readings}
		s, err := Of(t.Context(), source, within, hotBath(holds, probes...))
		if err != nil {
			rt.Fatal(err)
		}
		got, want := s.Baths[0], twin(readings, probes, holds, within, lasts)
		compare := func(what string, got *float64, want float64) {
			if (got == nil) != math.IsNaN(want) || got != nil && math.Abs(*got-want) > 1e-6 {
				rt.Errorf("%s is %v, want %v", what, show(got), want)
			}
		}
		compare("least", got.LeastCelsius, want.least)
		compare("mean", got.MeanCelsius, want.mean())
		compare("most", got.MostCelsius, want.most)
		compare("in range", got.TimeInRangeSeconds, seconds(want.inRange))
		compare("over limit", got.TimeOverLimitSeconds, seconds(want.overLimit))
		compare("known", &got.KnownSeconds, seconds(want.known))
		if got.Readings != want.readings {
			rt.Errorf("%d readings, want %d", got.Readings, want.readings)
		}
	})
}

func drawReading(rt *rapid.T, channel string, when record.Moment) record.Reading {
	r := celsius(channel, when, rapid.SampledFrom([]float64{20, 54.9, 55, 60, 75, 75.1, 90, 91}).Draw(rt, "value"))
	switch rapid.IntRange(0, 9).Draw(rt, "kind") {
	case 0:
		return bad(channel, when, sensors.ReasonSilent)
	case 1:
		return bad(channel, when, sensors.ReasonOverRange)
	case 2:
		r.Quality, r.Reason = sensors.QualityUncertain, sensors.ReasonStuck
	case 3:
		return underTest(r)
	}
	return r
}

// twin looks at each second of each run on its own.
func twin(readings []record.Reading, probes []string, holds time.Duration, within record.Range, lasts []int) figures {
	f := figures{least: math.NaN(), most: math.NaN()}
	for run := int64(1); run <= 2; run++ {
		for second := range lasts[run-1] {
			now := at(run, float64(second))
			if !inside(now, within) {
				continue
			}
			value, over := math.NaN(), false
			for _, probe := range probes {
				last, ok := newest(readings, probe, now)
				switch {
				case !ok || now.At >= last.At+holds || last.Test:
				case last.Reason == sensors.ReasonOverRange:
					over = true
				case last.Quality == sensors.QualityGood && !(value > last.Value.Number()):
					value = last.Value.Number()
				}
			}
			if !math.IsNaN(value) {
				f.known += time.Second
				f.weighed += value
				f.least, f.most = lower(f.least, value), higher(f.most, value)
			}
			if value >= 55 && value <= 75 {
				f.inRange += time.Second
			}
			if over || value >= 90 {
				f.overLimit += time.Second
			}
		}
	}
	for _, r := range readings {
		if inside(r.Moment(), within) && r.Quality == sensors.QualityGood && !r.Test {
			f.readings++
			f.most = higher(f.most, r.Value.Number())
		}
	}
	return f
}

// newest gives the last reading of a channel at or before a moment of its run.
func newest(readings []record.Reading, channel string, now record.Moment) (last record.Reading, ok bool) {
	for _, r := range readings {
		if r.Channel == channel && r.Run == now.Run && r.At <= now.At {
			last, ok = r, true
		}
	}
	return last, ok
}
