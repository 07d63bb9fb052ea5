package sensors

import (
	"fmt"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

const second = time.Second

func fumeChannel() Channel {
	return Channel{Name: "fume-h2s", Quantity: GasLevel, Gas: HydrogenSulfide, Low: -5, High: 100, WarmUp: 120 * second}
}

func probeChannel() Channel {
	return Channel{Name: "hot", Quantity: Temperature, Low: -20, High: 125, DigitalProbe: true}
}

// verdict is the part of a reading that the intake decides, as one word.
func verdict(r Reading) string {
	word := fmt.Sprintf("%v %v", r.Quality, r.Reason)
	if r.Value.Known() {
		word += " " + r.Value.String()
	}
	return word
}

func TestGasCellWarmsUp(t *testing.T) {
	c := fumeChannel()
	in := NewIntake(c, 0)
	if _, known := in.WarmUntil(); known {
		t.Error("the end of a warm-up is known before anything was heard")
	}
	steps := []struct {
		at   time.Duration
		raw  float64
		lost bool // before this reading
		want string
		end  time.Duration
	}{
		// The first reading begins the warm-up, and its value is shown.
		{at: 30 * second, raw: 0.4, want: "uncertain warming up 0.40 ppm", end: 150 * second},
		// A level below zero is neither clipped nor trusted.
		{at: 35 * second, raw: -1.5, want: "uncertain warming up -1.5 ppm", end: 150 * second},
		// Beyond the range either way while warming up is no danger yet.
		{at: 40 * second, raw: 101, want: "bad warming up", end: 150 * second},
		{at: 45 * second, raw: -6, want: "bad warming up", end: 150 * second},
		{at: 50 * second, raw: 7, want: "uncertain warming up 7.0 ppm", end: 150 * second},
		{at: 59 * second, raw: 7, want: "uncertain warming up 7.0 ppm", end: 150 * second},
		// It must go on being heard; each number within 10 s of the last counts.
		{at: 69 * second, raw: 1, want: "uncertain warming up 1.0 ppm", end: 150 * second},
		{at: 79*second + 1, raw: 1, want: "uncertain warming up 1.0 ppm", end: 199*second + 1},
		// What is no number is not the cell speaking.
		{at: 85 * second, raw: math.NaN(), want: "bad sends no number", end: 199*second + 1},
		{at: 89 * second, raw: 1, want: "uncertain warming up 1.0 ppm", end: 199*second + 1},
		// A cell that was lost begins anew.
		{at: 95 * second, raw: 1, lost: true, want: "uncertain warming up 1.0 ppm", end: 215 * second},
	}
	for _, s := range steps {
		if s.lost {
			in.Lost(s.at)
			if _, known := in.WarmUntil(); known {
				t.Error("the end of a warm-up is known though the cell is lost")
			}
		}
		r := in.Accept(c.Convert(s.at, s.raw))
		if got := verdict(r); got != s.want {
			t.Errorf("at %v: %s, want %s", s.at, got, s.want)
		}
		if end, known := in.WarmUntil(); !known || end != s.end {
			t.Errorf("at %v: warming until %v (known %v), want %v", s.at, end, known, s.end)
		}
		if r.Reason == ReasonWarmingUp && r.ReadyAt != s.end || r.Reason != ReasonWarmingUp && r.ReadyAt != 0 {
			t.Errorf("at %v: ready at %v with reason %v", s.at, r.ReadyAt, r.Reason)
		}
	}
	for at := 96 * second; at < 215*second; at += second {
		if r := in.Accept(c.Convert(at, 2)); r.Reason != ReasonWarmingUp {
			t.Fatalf("at %v: %s", at, verdict(r))
		}
	}
	if got := verdict(in.Accept(c.Convert(215*second, 2))); got != "good  2.0 ppm" {
		t.Errorf("after the warm-up: %s", got)
	}
	if got := verdict(in.Accept(c.Convert(216*second, 101))); got != "bad over range" {
		t.Errorf("over range after the warm-up: %s", got)
	}
}

func TestSeldomAskedChannelIsNotTakenForLost(t *testing.T) {
	c := fumeChannel()
	in := NewIntake(c, 0)
	in.AskedEvery(15 * second)
	for at := time.Duration(0); at < 120*second; at += 15 * second {
		if r := in.Accept(c.Convert(at, 1)); r.Reason != ReasonWarmingUp {
			t.Fatalf("at %v: %s", at, verdict(r))
		}
	}
	if got := verdict(in.Accept(c.Convert(120*second, 1))); got != "good  1.0 ppm" {
		t.Errorf("after the warm-up: %s", got)
	}
}

func TestPowerOnValue(t *testing.T) {
	type step struct {
		at   float64 // seconds
		raw  float64
		want string
	}
	const (
		fails   = math.MaxFloat64 // stands for a reading that carries no number
		suspect = "uncertain power-on value 85.0 °C"
		fault   = "bad device fault"
	)
	for name, c := range map[string]struct {
		settle time.Duration
		steps  []step
	}{
		"a glitch in a cool bath": {steps: []step{
			{1, 21, "good  21.0 °C"}, {2, 85, suspect}, {3, 21.1, "good  21.1 °C"}}},
		"a glitch above the line must not clear it": {steps: []step{
			{1, 92, "good  92.0 °C"}, {2, 85, suspect}, {3, 92, "good  92.0 °C"}}},
		"a bath that climbs through": {steps: []step{
			{1, 84.5, "good  84.5 °C"}, {2, 85, "good  85.0 °C"}, {11, 85, "good  85.0 °C"}}},
		"after a silence nothing is known": {steps: []step{
			{1, 84.5, "good  84.5 °C"}, {2, 85, "good  85.0 °C"}, {12.1, 85, suspect}}},
		"that stays good while it is heard": {steps: []step{
			{1, 80, "good  80.0 °C"}, {2, 85, "good  85.0 °C"}, {9, 85, "good  85.0 °C"}, {10, 85.1, "good  85.1 °C"}}},
		"just over five kelvin": {steps: []step{
			{1, 79.9, "good  79.9 °C"}, {2, 85, suspect}}},
		"the very first": {steps: []step{
			{1, 85, suspect}, {6, 85, suspect}, {6.1, 85, fault}, {16, 85, fault}, {17, 85.0625, "good  85.1 °C"}, {18, 85, "good  85.0 °C"}}},
		"a fault between does not begin it anew": {steps: []step{
			{1, 21, "good  21.0 °C"}, {2, 85, suspect}, {3, fails, "bad probe open"}, {7.5, 85, fault}}},
		"after a fault nothing is known": {steps: []step{
			{1, 84.9, "good  84.9 °C"}, {2, fails, "bad probe open"}, {3, 85, suspect}}},
		"never trusted while settling": {settle: 3 * second, steps: []step{
			{0.5, 84.9, "uncertain settling 84.9 °C"}, {1, 85, suspect}, {2, 22, "uncertain settling 22.0 °C"}, {4, 22, "good  22.0 °C"}}},
		"measured while settling": {settle: 3 * second, steps: []step{
			{2, 84.9, "uncertain settling 84.9 °C"}, {3, 85, "good  85.0 °C"}}},
	} {
		t.Run(name, func(t *testing.T) {
			channel := probeChannel()
			in := NewIntake(channel, c.settle)
			in.Opened(0)
			for _, s := range c.steps {
				at := time.Duration(s.at * float64(second))
				reading := channel.Convert(at, s.raw)
				if s.raw == fails {
					reading = channel.Fault(at, math.NaN(), ReasonOpenCircuit)
				}
				if got := verdict(in.Accept(reading)); got != s.want {
					t.Errorf("%v °C at %v s: %s, want %s", s.raw, s.at, got, s.want)
				}
			}
		})
	}
}

func TestPowerOnValueIsSeenBehindACorrection(t *testing.T) {
	c := probeChannel()
	c.Scale, c.Offset = 0.0625, 0.3
	in := NewIntake(c, 0)
	in.Accept(c.Convert(second, 336))
	if got := verdict(in.Accept(c.Convert(2*second, 1360))); got != "uncertain power-on value 85.3 °C" {
		t.Errorf("1360 sixteenths and a correction of 0.3 K: %s", got)
	}
	// A thermocouple's 85.0 is a temperature like any other.
	c.DigitalProbe = false
	if got := verdict(NewIntake(c, 0).Accept(c.Convert(second, 1360))); got != "good  85.3 °C" {
		t.Errorf("no digital probe: %s", got)
	}
}

func TestReadingFromBeforeTheLoss(t *testing.T) {
	c := probeChannel()
	in := NewIntake(c, 0)
	in.Accept(c.Convert(second, 60))
	in.Lost(5 * second)
	if got := verdict(in.Accept(c.Convert(4*second, 60))); got != "bad unplugged" {
		t.Errorf("a reading from before the loss: %s", got)
	}
	if in.Heard() {
		t.Error("a reading from before the loss counts as heard")
	}
	if got := verdict(in.Accept(c.Convert(6*second, 61))); got != "good  61.0 °C" || !in.Heard() {
		t.Errorf("a reading after the loss: %s, heard %v", got, in.Heard())
	}
}

func TestOverRangeWhileSettling(t *testing.T) {
	c := fumeChannel()
	c.WarmUp = 0
	in := NewIntake(c, 2*second)
	in.Opened(10 * second)
	r := in.Accept(c.Convert(11*second, 1000))
	if verdict(r) != "bad settling" || r.ReadyAt != 12*second {
		t.Errorf("over range while settling: %s until %v", verdict(r), r.ReadyAt)
	}
	if got := verdict(in.Accept(c.Convert(12*second, 1000))); got != "bad over range" {
		t.Errorf("over range once settled: %s", got)
	}
}

// happening is one call to an intake, kept for the slow twin.
type happening struct {
	what string // opened, lost, reading
	at   time.Duration
	r    Reading
}

// slowAccept is the twin of Accept: it decides on the last reading by looking
// through all that ever happened, and remembers nothing.
func slowAccept(c Channel, settle time.Duration, all []happening) string {
	r := all[len(all)-1].r
	var lastLoss, settled time.Duration
	for _, h := range all {
		switch h.what {
		case "lost":
			lastLoss = h.at
		case "opened":
			settled = h.at + settle
		}
	}
	if r.At < lastLoss {
		return "bad unplugged"
	}
	speaks := func(r Reading) bool { return r.Quality == QualityGood || r.Reason == ReasonOverRange }
	if !speaks(r) {
		return verdict(r)
	}
	// The power-up: the first number of the present run of numbers, with no
	// loss and no gap of over 10 s since.
	up := len(all) - 1
	for i, next := up-1, r.At; i >= 0 && all[i].what != "lost"; i-- {
		if h := all[i]; h.what == "reading" && speaks(h.r) {
			if next-h.r.At > 10*second {
				break
			}
			up, next = i, h.r.At
		}
	}
	if warm := all[up].r.At + c.WarmUp; r.At < warm {
		if r.Quality == QualityBad {
			return "bad warming up"
		}
		return "uncertain warming up " + r.Value.String()
	}
	if c.DigitalProbe && r.Quality == QualityGood && r.Value.Number() == 85 {
		// since is when the present unbroken run of 85.0 first was suspect; -1 for
		// never. A run is broken by another number only.
		since, near, settledThen := time.Duration(-1), false, time.Duration(0)
		for i, h := range all {
			switch {
			case h.what == "opened":
				settledThen = h.at + settle
			case i < up || h.what != "reading":
			case h.r.Quality != QualityGood:
				near = false
			case h.r.Value.Number() != 85:
				since, near = -1, math.Abs(h.r.Value.Number()-85) <= 5
			case since < 0 && (!near || h.at < settledThen):
				since = h.at
			}
		}
		switch {
		case since >= 0 && r.At-since > 5*second:
			return "bad device fault"
		case since >= 0:
			return "uncertain power-on value 85.0 °C"
		}
	}
	if r.At < settled {
		if r.Quality == QualityBad {
			return "bad settling"
		}
		return "uncertain settling " + r.Value.String()
	}
	return verdict(r)
}

func TestIntakeAgreesWithItsSlowTwin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, settle := probeChannel(), rapid.SampledFrom([]time.Duration{0, 3 * second}).Draw(t, "settle")
		raws := []float64{21, 79.9, 80, 84.9, 85, 85, 85, 85.0625, 90.1, 92, math.NaN(), -127}
		if rapid.Bool().Draw(t, "gas") {
			c, raws = fumeChannel(), []float64{-6, -1, 0, 0.5, 5, 100, 101, math.NaN()}
			c.WarmUp = 20 * second
			c.Low = -1000 // under range is in the table test
		}
		in := NewIntake(c, settle)
		var all []happening
		at := time.Duration(0)
		for range rapid.IntRange(1, 80).Draw(t, "steps") {
			at += time.Duration(rapid.SampledFrom([]int{0, 200, 1000, 1000, 2600, 5000, 5001, 10000, 10001}).Draw(t, "gap")) * time.Millisecond
			h := happening{what: rapid.SampledFrom([]string{"reading", "reading", "reading", "reading", "reading", "opened", "lost"}).Draw(t, "what"), at: at}
			switch h.what {
			case "opened":
				in.Opened(at)
			case "lost":
				in.Lost(at)
			case "reading":
				h.r = c.Convert(at, rapid.SampledFrom(raws).Draw(t, "raw"))
			}
			all = append(all, h)
			if h.what != "reading" {
				continue
			}
			got, want := verdict(in.Accept(h.r)), slowAccept(c, settle, all)
			if got != want {
				t.Fatalf("raw %v at %v: %s, the twin says %s", h.r.Raw, at, got, want)
			}
		}
	})
}

// FuzzIntake feeds any sequence of readings: trust is only ever taken away, no
// number is changed, and an 85.0 never follows a far one as good.
func FuzzIntake(f *testing.F) {
	f.Add([]byte{21, 85, 85, 21, 0, 85, 255, 90, 85})
	f.Add([]byte{254, 85, 84, 85, 253, 85})
	f.Fuzz(func(t *testing.T, script []byte) {
		for _, c := range []Channel{probeChannel(), fumeChannel()} {
			in := NewIntake(c, 2*second)
			var at time.Duration
			last := math.Inf(1) // the last number handed in
			for _, b := range script {
				at += time.Duration(b%13) * second
				switch b {
				case 255:
					in.Opened(at)
				case 254:
					in.Lost(at)
					last = math.Inf(1)
				default:
					given := c.Convert(at, float64(b))
					got := in.Accept(given)
					if got.Quality == QualityGood && given.Quality != QualityGood {
						t.Fatalf("%v became good", given)
					}
					if got.Value.Known() && got.Value != given.Value || got.At != given.At || got.Channel != c.Name {
						t.Fatalf("%v became %v", given, got)
					}
					if (got.Quality == QualityBad) == got.Value.Known() {
						t.Fatalf("%v carries %v", got.Quality, got.Value)
					}
					if c.DigitalProbe && got.Quality == QualityGood && b == 85 && math.Abs(last-85) > 5 {
						t.Fatalf("85.0 is good after %v", last)
					}
					if given.Quality == QualityGood {
						last = float64(b)
					}
				}
			}
		}
	})
}
