package convert

import (
	"math"
	"testing"

	"simmerline/sensors"
)

// FuzzConversions feeds every conversion any bits at all: nothing panics, what
// is no finite number is refused, and whatever is given without an error is a
// finite number inside the range of its source.
func FuzzConversions(f *testing.F) {
	for _, x := range []float64{0, -200, 1372, 4.096, 138.51, 54.886, -5.891, 1e300, math.NaN(), math.Inf(1), math.Inf(-1)} {
		f.Add(uint8(TypeK), x, 25.0)
		f.Add(uint8(TypeB), x, x)
	}
	f.Fuzz(func(t *testing.T, kind uint8, x, y float64) {
		tc := Thermocouple(kind)
		celsius, err := tc.Temperature(Millivolt(x), sensors.Celsius(y))
		inside(t, "Temperature", float64(celsius), err, -270, 1820, x, y)
		emf, err := tc.EMF(sensors.Celsius(x), sensors.Celsius(y))
		inside(t, "EMF", float64(emf), err, -100, 100, x, y)
		celsius, err = RTDTemperature(Ohm(x), Ohm(y))
		inside(t, "RTDTemperature", float64(celsius), err, -200, 850, y)
		ohm, err := RTDResistance(sensors.Celsius(x), Ohm(y))
		inside(t, "RTDResistance", float64(ohm), err, 0, 40000, x, y)
		mass, err := ByMass(sensors.Gas(kind), sensors.PPM(x))
		inside(t, "ByMass", float64(mass), err, 0, 3e6, x)
		level, err := ByVolume(sensors.Gas(kind), MilligramPerCubicMetre(x))
		inside(t, "ByVolume", float64(level), err, 0, mostPPM*1.0001, x)
	})
}

func inside(t *testing.T, what string, got float64, err error, low, high float64, inputs ...float64) {
	t.Helper()
	if err != nil {
		if got != 0 {
			t.Errorf("%s%v: %v beside an error", what, inputs, got)
		}
		return
	}
	for _, x := range inputs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			t.Errorf("%s%v was taken", what, inputs)
		}
	}
	if !(got >= low && got <= high) {
		t.Errorf("%s%v gave %v", what, inputs, got)
	}
}
