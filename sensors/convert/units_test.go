package convert

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"simmerline/sensors"
)

// The molar masses of the table of limits, and every limit that it lists in
// mg/m³ beside ppm. Authorities round, and the EU states 20 °C: a listed figure
// must lie within 1 % of ours or within half of its last digit, at 25 °C or, in
// EU directives, at their 20 °C. The figures that fit neither are named, and
// must go on not fitting.
func TestListedLimits(t *testing.T) {
	misfits := map[string]string{
		"H2S OSHA PEL (construction 1926.55, shipyard 1915.1000) 10 ppm": "prints 15 for 13.9",
		"H2S NIOSH REL 10 ppm":           "prints 15 for 13.9",
		"NH3 NIOSH REL 25 ppm":           "prints 18 for 17.4",
		"NH3 NIOSH REL 35 ppm":           "prints 27 for 24.4",
		"NH3 EU IOELV 2000/39/EC 50 ppm": "36 for 34.8, or 35.4 at 20 °C",
		"CO OSHA PEL 50 ppm":             "prints 55 for 57.2",
	}
	const at20 = 298.15 / 293.15
	masses, listed := 0, 0
	for _, r := range readReference(t, "exposure_limits.csv", 40) {
		what := r["gas"] + " " + r["authority"] + " " + r["value"] + " " + r["unit"]
		gas, named := sensors.ParseGas(strings.ToLower(r["gas"]))
		t.Run(lead(r, what), func(t *testing.T) {
			value := number(t, r["value"])
			switch {
			case r["unit"] == "%vol":
				// Limits of explosion and of oxygen: by volume only, nothing to convert.
			case !named:
				t.Errorf("gas %q is not known", r["gas"])
			case r["unit"] == "g/mol":
				masses++
				mass, _ := MolarMass(gas)
				near(t, what, mass, value, 0)
			default:
				mass, err := ByMass(gas, sensors.PPM(value))
				if err != nil {
					t.Fatal(err)
				}
				back, err := ByVolume(gas, mass)
				if err != nil {
					t.Fatal(err)
				}
				near(t, what+" and back", float64(back), value, value*1e-12)
				if r["mg_m3_listed"] == "" {
					return
				}
				listed++
				want := number(t, r["mg_m3_listed"])
				tolerance := math.Max(want/100, halfDigit(r["mg_m3_listed"]))
				off := math.Abs(float64(mass) - want)
				if strings.HasPrefix(r["authority"], "EU ") {
					off = math.Min(off, math.Abs(float64(mass)*at20-want))
				}
				why, misfit := misfits[what]
				if fits := off <= tolerance; fits == misfit {
					t.Errorf("%s: %v listed as %g mg/m³; misfit %q", what, mass, want, why)
				}
			}
		})
	}
	if masses != 4 || listed < 20 {
		t.Errorf("%d molar masses and %d listed limits were looked at", masses, listed)
	}
}

// The worked conversions, made with 24.45 L/mol: within 1 %, as our molar
// volume is not rounded.
func TestWorkedConversions(t *testing.T) {
	done := 0
	for _, r := range readReference(t, "exposure_worked_examples.csv", 15) {
		switch r["kind"] {
		case "ppm_to_mgm3":
			done++
			word, level, _ := strings.Cut(r["inputs"], ":")
			gas, _ := sensors.ParseGas(strings.ToLower(word))
			got, err := ByMass(gas, sensors.PPM(number(t, level)))
			if err != nil {
				t.Fatal(err)
			}
			want := number(t, r["result"])
			near(t, r["name"], float64(got), want, want/100)
		case "molar_volume":
			done++
			kelvin := 298.15
			if strings.HasPrefix(r["name"], "20 C") {
				kelvin = 293.15
			}
			near(t, r["name"], molarVolume*kelvin/298.15, number(t, r["result"]), 0.02)
		}
	}
	if done < 10 {
		t.Errorf("only %d conversions found", done)
	}
}

func TestByMassThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		gas := rapid.SampledFrom(sensors.Gases[:4]).Draw(t, "gas")
		level := rapid.Float64Range(0, mostPPM).Draw(t, "ppm")
		mass, err := ByMass(gas, sensors.PPM(level))
		if err != nil {
			t.Fatal(err)
		}
		back, err := ByVolume(gas, mass)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(back)-level) > level*1e-12 {
			t.Fatalf("%v ppm of %v came back as %v", level, gas, float64(back))
		}
	})
}

func TestUnitsErrors(t *testing.T) {
	mass := func(gas sensors.Gas, level float64) error {
		got, err := ByMass(gas, sensors.PPM(level))
		if err != nil && got != 0 {
			t.Errorf("%v beside an error", got)
		}
		return err
	}
	volume := func(gas sensors.Gas, c float64) error {
		got, err := ByVolume(gas, MilligramPerCubicMetre(c))
		if err != nil && got != 0 {
			t.Errorf("%v beside an error", got)
		}
		return err
	}
	for i, c := range []struct {
		err  error
		says string
	}{
		{mass(sensors.HydrogenSulfide, -0.1), "give 0 to 1000000 ppm"},
		{mass(sensors.HydrogenSulfide, 1e6+1), "give 0 to 1000000 ppm"},
		{mass(sensors.HydrogenSulfide, math.NaN()), "NaN ppm"},
		{mass(sensors.OtherGas, 1), `gas "other": give one of h2s, so2, nh3, co`},
		{mass(sensors.GasUnspecified, 1), "no molar mass"},
		{volume(sensors.Ammonia, -1), "-1 mg/m³ of ammonia is no concentration"},
		{volume(sensors.Ammonia, 1e7), "give 0 to 696085 mg/m³"},
		{volume(sensors.Ammonia, math.Inf(1)), "no concentration"},
		{volume(sensors.Ammonia, math.NaN()), "no concentration"},
		{volume(sensors.OtherGas, 1), "no molar mass"},
	} {
		if c.err == nil || !strings.Contains(c.err.Error(), c.says) || !strings.HasPrefix(c.err.Error(), "convert: ") {
			t.Errorf("case %d: %v, want an error with %q", i, c.err, c.says)
		}
	}
}

func ExampleByMass() {
	mass, err := ByMass(sensors.HydrogenSulfide, 10)
	fmt.Println(mass, err)
	// Output: 13.93 mg/m³ <nil>
}
