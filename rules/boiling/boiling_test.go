package boiling

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"simmerline/sensors"
)

// The two equations of region 4 are two solutions of one implicit equation, so
// they are each other's exact inverse.
func TestSaturationThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.Float64Range(0.001, float64(HighestTemperature)-0.001).Draw(t, "celsius")
		p, err := SaturationPressure(sensors.Celsius(c))
		if err != nil {
			t.Fatal(err)
		}
		back, err := SaturationTemperature(p)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(back)-c) > 1e-6 {
			t.Fatalf("%v °C came back as %v", c, back)
		}
	})
}

// A second road to the same pressure: the saturation line searched by halving.
func TestSaturationPressureAgainstSearch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.Float64Range(1, 370).Draw(t, "celsius")
		low, high := float64(LowestPressure), float64(HighestPressure)
		for range 80 {
			middle := (low + high) / 2
			boils, err := SaturationTemperature(sensors.Kilopascal(middle))
			if err != nil {
				t.Fatal(err)
			}
			if float64(boils) < c {
				low = middle
			} else {
				high = middle
			}
		}
		p, err := SaturationPressure(sensors.Celsius(c))
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(p)-low) > low*1e-8 {
			t.Fatalf("at %v °C: %v kPa, the search gives %v", c, float64(p), low)
		}
	})
}

func TestHigherBoilsSooner(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(float64(LowestAltitude), float64(HighestAltitude)-1).Draw(t, "altitude")
		below, err := AtAltitude(sensors.Metre(low))
		if err != nil {
			t.Fatal(err)
		}
		above, err := AtAltitude(sensors.Metre(low + 1))
		if err != nil {
			t.Fatal(err)
		}
		if !(above < below) {
			t.Fatalf("%v m: %v, a metre up: %v", low, below, above)
		}
	})
}

// With the standard's own pressure at sea level, both ways agree at any height.
func TestSeaLevelPressureOfTheStandard(t *testing.T) {
	for _, altitude := range []sensors.Metre{-400, 0, 500, 1609, 3000, 5000} {
		want, err := AtAltitude(altitude)
		if err != nil {
			t.Fatal(err)
		}
		got, err := AtSeaLevelPressure(101.325, altitude)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(got-want)) > 1e-9 {
			t.Errorf("at %v: %v from sea level, %v from altitude", altitude, got, want)
		}
	}
	// A deep low over the yard: 1.3 % less at sea level is 1.3 % less up here.
	station, err := StationPressure(100, 1609)
	if err != nil {
		t.Fatal(err)
	}
	if want := 83.435 * 100 / 101.325; math.Abs(float64(station)-want) > 0.001 {
		t.Errorf("station pressure %v kPa, want %.3f", float64(station), want)
	}
}

func TestCheckStationPressure(t *testing.T) {
	for _, c := range []struct {
		station  sensors.Kilopascal
		altitude sensors.Metre
		refused  string
	}{
		{83.4, 1609, ""},
		{88.4, 1609, ""},
		{78.5, 1609, ""},
		{88.5, 1609, "sea level"},
		{78.4, 1609, "sea level"},
		{101.3, 1609, "weather reports give the pressure reduced to sea level"},
		{101.3, 0, ""},
		{834, 1609, "can't be right"},
		{sensors.Kilopascal(math.NaN()), 0, "can't be right"},
		{101.3, 20000, "outside the standard atmosphere"},
	} {
		err := CheckStationPressure(c.station, c.altitude)
		switch {
		case c.refused == "" && err != nil:
			t.Errorf("%v at %v: %v", c.station, c.altitude, err)
		case c.refused != "" && (err == nil || !strings.Contains(err.Error(), c.refused)):
			t.Errorf("%v at %v: %v, want an error with %q", c.station, c.altitude, err, c.refused)
		}
	}
}

// Outside its range, and for what is no number, each function says what is
// wrong and what to give instead, and gives no number.
func TestOutOfRange(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		name  string
		call  func(float64) (float64, error)
		wrong []float64
		mend  string
	}{
		{"SaturationPressure", func(x float64) (float64, error) {
			p, err := SaturationPressure(sensors.Celsius(x))
			return float64(p), err
		}, []float64{-0.001, 373.9461, nan, inf, -inf}, "give a temperature"},
		{"SaturationTemperature", func(x float64) (float64, error) {
			c, err := SaturationTemperature(sensors.Kilopascal(x))
			return float64(c), err
		}, []float64{0.611, 22064.1, 0, -1, nan, inf, -inf}, "give an absolute pressure"},
		{"StandardPressure", func(x float64) (float64, error) {
			p, err := StandardPressure(sensors.Metre(x))
			return float64(p), err
		}, []float64{-500.1, 11000.1, nan, inf, -inf}, "give metres above sea level"},
		{"AtAltitude", func(x float64) (float64, error) {
			c, err := AtAltitude(sensors.Metre(x))
			return float64(c), err
		}, []float64{-501, 11001, nan}, "give metres above sea level"},
		{"AtStationPressure", func(x float64) (float64, error) {
			c, err := AtStationPressure(sensors.Kilopascal(x))
			return float64(c), err
		}, []float64{21.9, 834, 1013, nan, inf}, "1 kPa is 10 hPa"},
		{"AtSeaLevelPressure", func(x float64) (float64, error) {
			c, err := AtSeaLevelPressure(sensors.Kilopascal(x), 1609)
			return float64(c), err
		}, []float64{83.4, 1013, nan, inf}, "station pressure"},
	} {
		for _, x := range c.wrong {
			got, err := c.call(x)
			if err == nil || !strings.Contains(err.Error(), c.mend) || !strings.HasPrefix(err.Error(), "boiling: ") {
				t.Errorf("%s(%v): error %v, want one that says %q", c.name, x, err, c.mend)
			}
			if got != 0 {
				t.Errorf("%s(%v): %v beside an error", c.name, x, got)
			}
		}
	}
	if _, err := AtSeaLevelPressure(101.3, sensors.Metre(nan)); err == nil {
		t.Error("an altitude that is no number was taken")
	}
}

func ExampleAtAltitude() {
	boil, err := AtAltitude(1609)
	fmt.Println(boil, err)
	// Output: 94.6 °C <nil>
}
