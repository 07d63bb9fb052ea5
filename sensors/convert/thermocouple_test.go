package convert

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"simmerline/sensors"
)

// Every row of the NIST tables (SRD 60) must come out of the reference function
// to the microvolt printed.
func TestReferenceTable(t *testing.T) {
	for _, r := range readReference(t, "thermocouple_its90.csv", 240) {
		tc, err := ParseThermocouple(r["type"])
		if err != nil {
			t.Fatal(err)
		}
		what := r["type"] + " at " + r["temp_c"] + " °C"
		celsius := sensors.Celsius(number(t, r["temp_c"]))
		got, err := tc.EMF(celsius, 0)
		if err != nil {
			t.Errorf("%s: %v", what, err)
			continue
		}
		near(t, what, float64(got), number(t, r["emf_mv"]), 0.000501)
		if float64(celsius) < mustReference(t, tc).lowest {
			continue
		}
		// Back from the exact voltage: the table's own is rounded.
		back, err := tc.Temperature(got, 0)
		if err != nil {
			t.Errorf("%s: %v", what, err)
			continue
		}
		near(t, what+" and back", float64(back), float64(celsius), 0.001)
	}
}

// The coefficients in the code are those of the file, term by term, and there
// are no others.
func TestCoefficients(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range readReference(t, "thermocouple_its90_coefficients.csv", 300) {
		tc, err := ParseThermocouple(r["type"])
		if err != nil {
			t.Fatal(err)
		}
		ref := mustReference(t, tc)
		what := strings.Join([]string{r["type"], r["kind"], r["range_lo"], r["range_hi"], r["term"]}, " ")
		want := number(t, r["coefficient"])
		seen[what] = true
		if r["kind"] == "forward_exp" {
			near(t, what, ref.hump[int(number(t, strings.TrimPrefix(r["term"], "a")))], want, 0)
			continue
		}
		pieces := ref.forward
		if r["kind"] == "inverse" {
			pieces = ref.inverse
		}
		found := false
		for _, p := range pieces {
			term := int(number(t, r["term"]))
			if p.low == number(t, r["range_lo"]) && p.high == number(t, r["range_hi"]) && term < len(p.terms) {
				found = true
				near(t, what, p.terms[term], want, 0)
			}
		}
		if !found {
			t.Errorf("%s: the code has no such term", what)
		}
	}
	have := 0
	for _, tc := range Thermocouples {
		ref := mustReference(t, tc)
		if ref.hump[0] != 0 {
			have += len(ref.hump)
		}
		for _, p := range append(append([]piece{}, ref.forward...), ref.inverse...) {
			have += len(p.terms)
		}
	}
	if have != len(seen) {
		t.Errorf("the code has %d coefficients, the file %d", have, len(seen))
	}
}

// The published inverse alone must lie within the error that NIST states for
// it, so its ends in °C, which the file lacks, are checked too: at each end of
// the inverse the reference function gives the printed voltage.
func TestPublishedInverse(t *testing.T) {
	for _, r := range readReference(t, "thermocouple_its90_coefficients.csv", 300) {
		if r["kind"] != "inverse" || r["term"] != "0" {
			continue
		}
		tc, err := ParseThermocouple(r["type"])
		if err != nil {
			t.Fatal(err)
		}
		ref := mustReference(t, tc)
		low, high := number(t, r["range_lo"]), number(t, r["range_hi"])
		under, over := number(t, r["err_lo_c"]), number(t, r["err_hi_c"])
		for _, p := range ref.inverse {
			if p.low != low || p.high != high {
				continue
			}
			for i := range 101 {
				e := low + (high-low)*float64(i)/100
				published, _ := p.value(e)
				exact, err := tc.Temperature(Millivolt(e), 0)
				if err != nil {
					t.Fatalf("type %s at %g mV: %v", tc, e, err)
				}
				// The error is printed with one digit, and the ends are rounded by up
				// to half a microvolt.
				_, slope := ref.voltage(float64(exact))
				room := 0.0005/slope*edge(i) + 0.006
				if off := published - float64(exact); off < under-room || off > over+room {
					t.Errorf("type %s at %g mV: published inverse off by %.4f K, stated %g to %g", tc, e, off, under, over)
				}
			}
		}
	}
	for _, tc := range Thermocouples {
		ref := mustReference(t, tc)
		low, _ := ref.voltage(ref.lowest)
		high, _ := ref.voltage(ref.highest)
		near(t, tc.String()+" low end", ref.inverse[0].low, low, 0.001)
		near(t, tc.String()+" high end", ref.inverse[len(ref.inverse)-1].high, high, 0.001)
	}
}

// edge is 1 at the two ends of the hundred steps, else 0.
func edge(i int) float64 {
	if i == 0 || i == 100 {
		return 1
	}
	return 0
}

// There and back over the whole published inverse range: within 1 mK, on a fine
// grid and wherever rapid looks. The greatest error of each type is logged.
func TestThereAndBack(t *testing.T) {
	const most = 0.001
	for _, tc := range Thermocouples {
		ref := mustReference(t, tc)
		worst, worstAt := 0.0, 0.0
		const steps = 20000
		for i := range steps + 1 {
			c := ref.lowest + (ref.highest-ref.lowest)*float64(i)/steps
			if off := thereAndBack(t, tc, c, 0); off > worst {
				worst, worstAt = off, c
			}
		}
		t.Logf("type %s: at most %.2g K off, at %.2f °C", tc, worst, worstAt)
		if worst > most {
			t.Errorf("type %s: %g K off at %g °C", tc, worst, worstAt)
		}
	}
	// The ends too, with a sum of two voltages that may be rounded.
	for _, tc := range Thermocouples {
		ref := mustReference(t, tc)
		for cold := 0.0; cold <= 60; cold += 0.5 {
			for _, end := range []float64{ref.lowest, ref.highest} {
				if off := thereAndBack(t, tc, end, cold); off > most {
					t.Errorf("type %s: %g K off at its end of %g °C", tc, off, end)
				}
			}
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		tc := rapid.SampledFrom(Thermocouples).Draw(t, "type")
		ref, err := tc.reference()
		if err != nil {
			t.Fatal(err)
		}
		c := rapid.Float64Range(ref.lowest, ref.highest).Draw(t, "celsius")
		cold := rapid.Float64Range(0, 60).Draw(t, "reference junction")
		if off := thereAndBack(t, tc, c, cold); off > most {
			t.Fatalf("type %s at %v °C with the reference junction at %v °C: %g K off", tc, c, cold, off)
		}
	})
}

func thereAndBack(t interface{ Fatal(...any) }, tc Thermocouple, celsius, cold float64) float64 {
	e, err := tc.EMF(sensors.Celsius(celsius), sensors.Celsius(cold))
	if err != nil {
		t.Fatal(err)
	}
	back, err := tc.Temperature(e, sensors.Celsius(cold))
	if err != nil {
		t.Fatal(err)
	}
	return math.Abs(float64(back) - celsius)
}

// A second road to the same temperature: halving the reference function, which
// rises all along the published inverse range.
func TestTemperatureAgainstHalving(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tc := rapid.SampledFrom(Thermocouples).Draw(t, "type")
		ref, err := tc.reference()
		if err != nil {
			t.Fatal(err)
		}
		low, high := ref.ends()
		e := rapid.Float64Range(low, high).Draw(t, "mV")
		cool, hot := ref.lowest, ref.highest
		for range 70 {
			middle := (cool + hot) / 2
			if at, _ := ref.voltage(middle); at < e {
				cool = middle
			} else {
				hot = middle
			}
		}
		got, err := tc.Temperature(Millivolt(e), 0)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(got)-cool) > 0.001 {
			t.Fatalf("type %s at %v mV: %v °C, halving gives %v", tc, e, float64(got), cool)
		}
	})
}

// The reference table's own example: K at 60 °C with the reference junction at
// 25 °C gives 2.436 - 1.000 = 1.436 mV.
func TestReferenceJunction(t *testing.T) {
	e, err := TypeK.EMF(60, 25)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "K 60 °C against 25 °C", float64(e), 1.436, 0.001)
	got, err := TypeK.Temperature(1.436, 25)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "K 1.436 mV against 25 °C", float64(got), 60, 0.02)
	// Both junctions alike: no voltage, whatever the type.
	for _, tc := range Thermocouples {
		if e, err := tc.EMF(25, 25); err != nil || e != 0 {
			t.Errorf("type %s, both junctions at 25 °C: %v, %v", tc, e, err)
		}
	}
}

// What the error of type B says is so: from 0 to 42 °C its voltage falls and
// rises again, and nothing of it can be told below 250 °C.
func TestTypeBTwoValued(t *testing.T) {
	least, leastAt := 0.0, 0.0
	for c := 0.0; c <= 42; c += 0.01 {
		if e, _ := referenceB.voltage(c); e < least {
			least, leastAt = e, c
		}
	}
	near(t, "least voltage of type B", least, -0.00258, 0.00002)
	near(t, "where type B is least", leastAt, 21, 0.1)
	back, _ := referenceB.voltage(42)
	near(t, "type B at 42 °C", back, 0, 0.00005)
	for _, e := range []Millivolt{-0.001, 0, 0.1, 0.29} {
		_, err := TypeB.Temperature(e, 0)
		if err == nil || !strings.Contains(err.Error(), "two temperatures") || !strings.Contains(err.Error(), "250 °C") {
			t.Errorf("type B at %v: %v", e, err)
		}
	}
}

func TestThermocoupleErrors(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	temperature := func(tc Thermocouple, e, cold float64) error {
		got, err := tc.Temperature(Millivolt(e), sensors.Celsius(cold))
		if err != nil && got != 0 {
			t.Errorf("%v beside an error", got)
		}
		return err
	}
	emf := func(tc Thermocouple, hot, cold float64) error {
		got, err := tc.EMF(sensors.Celsius(hot), sensors.Celsius(cold))
		if err != nil && got != 0 {
			t.Errorf("%v beside an error", got)
		}
		return err
	}
	_, unknown := ParseThermocouple("L")
	for i, c := range []struct {
		err  error
		says string
	}{
		{temperature(TypeK, 54.9, 0), "only above 1372 °C, where no inverse is published: look for an open circuit"},
		{temperature(TypeK, -6, 0), "only below -200 °C, where no inverse is published: look for swapped wires"},
		{temperature(TypeK, 54.5, 25), "55.500 mV only above 1372 °C"},
		{temperature(TypeK, nan, 0), "NaN mV is no voltage"},
		{temperature(TypeK, inf, 0), "is no voltage"},
		{temperature(TypeK, -inf, 0), "is no voltage"},
		{temperature(TypeK, 1, nan), "the reference junction of type K"},
		{temperature(TypeR, 1, -60), "holds from -50 to 1768.1 °C"},
		{temperature(ThermocoupleUnspecified, 1, 0), "no thermocouple type 0: give one of B, E"},
		{emf(TypeK, 1372.1, 0), "the measuring junction of type K can't be converted at 1372.1 °C: its reference function holds from -270 to 1372 °C"},
		{emf(TypeB, 100, -1), "the reference junction of type B"},
		{emf(TypeK, nan, 0), "measuring junction"},
		{emf(TypeK, 0, inf), "reference junction"},
		{emf(TypeT+1, 0, 0), "no thermocouple type 9"},
		{unknown, `no thermocouple type "L"`},
	} {
		if c.err == nil || !strings.Contains(c.err.Error(), c.says) || !strings.HasPrefix(c.err.Error(), "convert: ") {
			t.Errorf("case %d: %v, want an error with %q", i, c.err, c.says)
		}
	}
}

func TestThermocoupleLetters(t *testing.T) {
	for _, tc := range Thermocouples {
		for _, letter := range []string{tc.String(), strings.ToLower(tc.String())} {
			if got, err := ParseThermocouple(letter); err != nil || got != tc {
				t.Errorf("%q is read as %v, %v", letter, got, err)
			}
		}
	}
	if got := ThermocoupleUnspecified.String() + (TypeT + 1).String(); got != "unspecifiedunspecified" {
		t.Errorf("what is no type is called %q", got)
	}
}

func mustReference(t *testing.T, tc Thermocouple) *reference {
	t.Helper()
	ref, err := tc.reference()
	if err != nil {
		t.Fatal(err)
	}
	return ref
}

func ExampleThermocouple_Temperature() {
	// A type K thermocouple, its connector at 25 °C.
	t, err := TypeK.Temperature(2.436, 25)
	fmt.Println(t, err)
	// Output: 84.1 °C <nil>
}
