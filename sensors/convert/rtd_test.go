package convert

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"simmerline/sensors"
)

// Every row of the table for IEC 60751:2008. How far a probe may be off is no
// part of the conversion; the tolerance rows check toleranceOf below, and with
// it those in ohms check the conversion's slope.
func TestRTDReference(t *testing.T) {
	for _, r := range readReference(t, "pt_rtd_iec60751.csv", 60) {
		what := strings.Join([]string{r["kind"], r["item"], r["temp_c"]}, " ")
		t.Run(lead(r, what), func(t *testing.T) {
			switch r["kind"] {
			case "coefficient":
				want := map[string]float64{"A": rtdA, "B": rtdB, "C": rtdC}
				near(t, what, want[r["item"]], number(t, r["value"]), 0)
			case "formula":
				checkFormula(t, r["item"], r["value"])
			case "alpha":
				near(t, what, (pt100(t, 100)-pt100(t, 0))/(100*100), number(t, r["value"]), 0.0000051)
			case "resistance":
				celsius := number(t, r["temp_c"])
				near(t, what, pt100(t, celsius), number(t, r["value"]), 0.00501)
				back, err := RTDTemperature(Ohm(number(t, r["value"])), 100)
				if err != nil {
					t.Fatal(err)
				}
				// Half of the last printed digit is 0.013 K.
				near(t, what+" and back", float64(back), celsius, 0.0135)
			case "tolerance":
				var base, slope float64
				if _, err := fmt.Sscanf(r["value"], "%f+%f*abs(t)", &base, &slope); err != nil {
					t.Fatal(err)
				}
				near(t, what, toleranceOf(r["item"], -100), base+100*slope, 1e-12)
			case "tolerance_value":
				near(t, what, toleranceOf(r["item"], number(t, r["temp_c"])), number(t, r["value"]), halfDigit(r["value"]))
			case "tolerance_ohm":
				celsius := number(t, r["temp_c"])
				off := toleranceOf(r["item"], celsius)
				near(t, what, (pt100(t, celsius+off)-pt100(t, celsius-off))/2, number(t, r["value"]), 0.00501)
			case "tolerance_range":
				var low, high float64
				if _, err := fmt.Sscanf(strings.ReplaceAll(r["value"], "..", " "), "%f %f", &low, &high); err != nil {
					t.Fatal(err)
				}
				if low < float64(LowestRTD) || high > float64(HighestRTD) {
					t.Errorf("%s: %g to %g °C is not inside our range", what, low, high)
				}
			default:
				t.Errorf("no check is written for rows of kind %q", r["kind"])
			}
		})
	}
}

// checkFormula evaluates the printed formula, in its plain powers, beside ours.
func checkFormula(t *testing.T, where, printed string) {
	t.Helper()
	want := func(c float64) float64 { return 100 * (1 + rtdA*c + rtdB*c*c) }
	from, to := 0.0, 850.0
	if where == "t<0" {
		above := want
		want = func(c float64) float64 { return above(c) + 100*rtdC*(c-100)*c*c*c }
		from, to = -200, -0.001
		if !strings.Contains(printed, "C (t-100) t^3") {
			t.Errorf("formula %q is not the one evaluated here", printed)
		}
	}
	for i := range 101 {
		c := from + (to-from)*float64(i)/100
		near(t, fmt.Sprint("Pt100 at ", c), pt100(t, c), want(c), 1e-10)
	}
}

// toleranceOf is what a class of IEC 60751 allows, in kelvin.
func toleranceOf(class string, celsius float64) float64 {
	c := math.Abs(celsius)
	switch class {
	case "AA":
		return 0.1 + 0.0017*c
	case "A":
		return 0.15 + 0.002*c
	case "B":
		return 0.3 + 0.005*c
	case "C":
		return 0.6 + 0.01*c
	default:
		return 0
	}
}

func pt100(t *testing.T, celsius float64) float64 {
	t.Helper()
	r, err := RTDResistance(sensors.Celsius(celsius), 100)
	if err != nil {
		t.Fatal(err)
	}
	return float64(r)
}

func TestRTDThereAndBack(t *testing.T) {
	worst := 0.0
	for i := range 21001 {
		c := -200 + float64(i)*0.05
		back, err := RTDTemperature(Ohm(pt100(t, c)), 100)
		if err != nil {
			t.Fatal(err)
		}
		worst = math.Max(worst, math.Abs(float64(back)-c))
	}
	t.Logf("at most %.2g K off", worst)
	if worst > 1e-6 {
		t.Errorf("%g K off", worst)
	}
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.Float64Range(-200, 850).Draw(t, "celsius")
		r0 := rapid.Float64Range(1, 10000).Draw(t, "r0")
		r, err := RTDResistance(sensors.Celsius(c), Ohm(r0))
		if err != nil {
			t.Fatal(err)
		}
		back, err := RTDTemperature(r, Ohm(r0))
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(back)-c) > 1e-6 {
			t.Fatalf("%v °C came back as %v", c, float64(back))
		}
	})
}

// The tables print 18.52 and 390.48 ohm for the ends of a Pt100: both are
// inside, and a hundredth beyond is not.
func TestRTDEnds(t *testing.T) {
	for _, c := range []struct {
		ohm, want float64
		says      string
	}{
		{18.52, -200, ""},
		{390.48, 850, ""},
		{18.51, 0, "short circuit"},
		{390.49, 0, "open circuit"},
		{0, 0, "short circuit"},
		{-5, 0, "short circuit"},
		{1e9, 0, "open circuit"},
		{math.Inf(1), 0, "open circuit"},
		{math.Inf(-1), 0, "short circuit"},
		{math.NaN(), 0, "NaN ohm is no resistance"},
	} {
		got, err := RTDTemperature(Ohm(c.ohm), 100)
		if c.says == "" {
			if err != nil {
				t.Errorf("%g ohm: %v", c.ohm, err)
			}
			near(t, fmt.Sprint(c.ohm, " ohm"), float64(got), c.want, 0.005)
			continue
		}
		if err == nil || got != 0 || !strings.Contains(err.Error(), c.says) || !strings.HasPrefix(err.Error(), "convert: ") {
			t.Errorf("%g ohm: %v, %v, want an error with %q", c.ohm, got, err, c.says)
		}
	}
	for _, c := range []float64{-200.01, 850.01, math.NaN(), math.Inf(1)} {
		if got, err := RTDResistance(sensors.Celsius(c), 100); err == nil || got != 0 {
			t.Errorf("%g °C: %v, %v", c, got, err)
		}
	}
	for _, r0 := range []float64{0, -100, 0.9, 10001, math.NaN(), math.Inf(1)} {
		if _, err := RTDTemperature(100, Ohm(r0)); err == nil || !strings.Contains(err.Error(), "100 for a Pt100") {
			t.Errorf("nominal %g ohm: %v", r0, err)
		}
		if _, err := RTDResistance(0, Ohm(r0)); err == nil {
			t.Errorf("nominal %g ohm was taken", r0)
		}
	}
}

func ExampleRTDTemperature() {
	t, err := RTDTemperature(138.51, 100)
	fmt.Println(t, err)
	// Output: 100.0 °C <nil>
}
