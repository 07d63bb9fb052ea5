package rules

import (
	"testing"
	"time"

	"simmerline/sensors"
)

// A reading stamped in the future must not hide the silence that follows it,
// nor the readings that come after it.
func TestReadingFromTheFutureHidesNothing(t *testing.T) {
	r := newRig(t, small())
	r.feed(5*time.Second, calm(60)...)
	early := celsius("a", 60)
	early.At = r.now + time.Hour
	_ = r.step(Input{Readings: []sensors.Reading{early}})
	if age := r.engine.View().Channels[0].Age; age < 0 {
		t.Errorf("the reading's age is %v", age)
	}
	r.feed(20*time.Second, without(calm(60), "a")...)
	r.want("a-lost", Unacknowledged)

	r.feed(5*time.Second, calm(60)...)
	r.want("a-lost", RTNUnacknowledged)
	early.At = r.now + time.Hour
	_ = r.step(Input{Readings: []sensors.Reading{early}})
	r.feed(10*time.Second, without(but(calm(60), celsius("a", 95)), "b")...)
	r.want("pot-danger", Unacknowledged)
}

// What was sent before a port went, or before the machine slept, says nothing of
// the present, however late it comes.
func TestWhatWasSentBeforeAGapSaysNothing(t *testing.T) {
	for name, gap := range map[string]Input{
		"unplugged": {Ports: []PortChange{{Port: "one", Gone: true}}},
		"slept":     {Slept: true},
	} {
		t.Run(name, func(t *testing.T) {
			r := newRig(t, small())
			r.feed(5*time.Second, calm(60)...)
			r.now += 2 * time.Second
			_ = r.step(gap)
			late := celsius("a", 60)
			late.At = r.now - time.Second
			r.now += time.Second
			_ = r.step(Input{Readings: []sensors.Reading{late}})
			if q := r.engine.View().Channels[0].Reading.Quality; q == sensors.QualityGood {
				t.Errorf("a reading from before the gap is %s", q)
			}
		})
	}
}

// A port that comes back brings no number with it: what its channels read
// before is not known to hold.
func TestPortThatComesBackKnowsNothingYet(t *testing.T) {
	r := newRig(t, small())
	r.feed(5*time.Second, calm(60)...)
	_ = r.step(Input{Ports: []PortChange{{Port: "one", Gone: true}}})
	r.now += time.Second
	_ = r.step(Input{Ports: []PortChange{{Port: "one"}}})
	if got := r.engine.View().Channels[0].Reading; got.Quality != sensors.QualityUnknown || got.Value.Known() {
		t.Errorf("got %s with %s, want unknown with no value", got.Quality, got.Value)
	}
}

// A reading that breaks its own promises is not believed: good without a number
// or with one of another kind, bad with a number, a grade that does not exist.
func TestReadingsThatBreakTheirPromisesAreBad(t *testing.T) {
	wrongKind := good("a", sensors.GasLevel, 20)
	noNumber := sensors.Reading{Channel: "a", Quality: sensors.QualityGood}
	badWithNumber := celsius("a", 20)
	badWithNumber.Quality, badWithNumber.Reason = sensors.QualityBad, sensors.ReasonDeviceFault
	noSuchGrade := celsius("a", 20)
	noSuchGrade.Quality = 77
	for name, odd := range map[string]sensors.Reading{
		"wrong kind": wrongKind, "no number": noNumber, "bad with a number": badWithNumber, "no such grade": noSuchGrade,
	} {
		t.Run(name, func(t *testing.T) {
			r := newRig(t, small())
			r.feed(20*time.Second, without(but(calm(60), celsius("a", 92)), "b")...)
			r.want("pot-danger", Unacknowledged)
			r.feed(60*time.Second, without(but(calm(60), odd), "b")...)
			r.want("pot-danger", Unacknowledged)
			r.want("a-lost", Unacknowledged)
			if got := r.engine.View().Channels[0].Reading; got.Quality != sensors.QualityBad || got.Value.Known() {
				t.Errorf("it is shown as %s with %s", got.Quality, got.Value)
			}
		})
	}
}

// A thermometer's 'over range' is a broken thermometer: only a gas cell's is
// danger, and neither clears anything.
func TestOverRangeIsDangerOnlyOfAGas(t *testing.T) {
	r := newRig(t, small())
	r.feed(20*time.Second, without(but(calm(60), celsius("a", 104)), "b")...)
	r.want("pot-boiled-dry", Unacknowledged)
	r.feed(2*time.Minute, without(but(calm(60), bad("a", sensors.ReasonOverRange)), "b")...)
	r.want("pot-boiled-dry", Unacknowledged)
	r.want("pot-danger", Unacknowledged)
	r.want("a-lost", Unacknowledged)

	r = newRig(t, small())
	r.feed(20*time.Second, but(calm(20), bad("h2s", sensors.ReasonOverRange))...)
	r.want("fume-h2s-danger", Unacknowledged)
}

// A gas with no limit of its own in our table still calls beyond its cell's range.
func TestOverRangeOfAnyGasIsDanger(t *testing.T) {
	setup := small()
	setup.Channels[2].Gas = sensors.OtherGas
	r := newRig(t, setup)
	r.feed(5*time.Second, but(calm(20), bad("h2s", sensors.ReasonOverRange))...)
	if got := r.engine.Sounding(); got != Danger {
		t.Fatalf("over range of an unnamed gas sounds %s", got)
	}
	if got := r.engine.View().Advice; got.Headline != HeadlineLeave {
		t.Errorf("it says %s: %s", got.Headline, got.Sentence)
	}
}

// Readings of one channel that come in one step are each judged: a level that
// is over its danger for one reading calls, however the loop batches.
func TestEachReadingOfAStepIsJudged(t *testing.T) {
	r := newRig(t, small())
	r.feed(5*time.Second, calm(20)...)
	r.now += time.Second
	_ = r.step(Input{Readings: []sensors.Reading{{Channel: "h2s", At: r.now, Value: sensors.MustValue(sensors.GasLevel, 9), Quality: sensors.QualityGood},
		{Channel: "h2s", At: r.now, Value: sensors.MustValue(sensors.GasLevel, 0), Quality: sensors.QualityGood}}})
	r.want("fume-h2s-danger", Unacknowledged)
}

// A sleep of the machine is a gap in what is known of a trend, and in the
// evidence that a danger is over; and nobody watched a hot bath meanwhile.
func TestSleepIsAGap(t *testing.T) {
	setup := small()
	setup.Rules = []Rule{{Name: "falls", Any: []Condition{{Kind: Falling, Bath: "pot", Setpoint: 5, Window: time.Minute}},
		Priority: Warning, Class: EverythingElse}}
	r := newRig(t, setup)
	r.feed(10*time.Second, but(calm(80), ppm("h2s", 6))...)
	r.feed(110*time.Second, calm(80)...)
	r.want("fume-h2s-danger", Unacknowledged)
	_ = r.step(Input{Slept: true})
	r.feed(40*time.Second, calm(50)...)
	r.want("falls", Normal)
	r.want("fume-h2s-danger", Unacknowledged) // its two minutes begin again
	r.want("hub-was-dark", Unacknowledged)
}
