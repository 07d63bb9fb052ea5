package boiling

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"simmerline/sensors"

	"simmerline/sensors/sensorstest"
)

// TestReference holds the code against every row of the reference table, whose
// head names the sources: IAPWS R7-97(2012) Tables 34 to 36, published steam
// tables, and the US Standard Atmosphere 1976. A row marked 'memory' has not
// been seen in print again: it is a lead, not a proof, and its subtest is named
// so. The tolerance of each kind is half of the last printed digit, but for
// what its comment says.
func TestReference(t *testing.T) {
	_, rows := sensorstest.Reference(t, "../../testdata/reference/saturation_if97.csv")
	if len(rows) < 69 {
		t.Fatalf("only %d rows; the table has lost some", len(rows))
	}
	for _, row := range rows {
		kind, input, value, verified := row[0], row[1], row[3], row[5]
		name := kind + "/" + input
		if strings.Contains(verified, "memory") {
			name = "lead/" + name
		}
		t.Run(name, func(t *testing.T) {
			check, known := checks[kind]
			if !known {
				t.Fatalf("no check is written for rows of kind %q", kind)
			}
			check(t, input, row[2], value)
		})
	}
}

// checks has one check for each kind of row.
var checks = map[string]func(t *testing.T, input, inputUnit, value string){
	"coefficient": func(t *testing.T, input, _, value string) {
		near(t, coefficients[input], number(t, value), 0)
	},
	// Nine digits are printed.
	"if97_table35": func(t *testing.T, input, _, value string) {
		got := psat(t, number(t, input)-kelvinAtZero) / 1000
		near(t, got, number(t, value), number(t, value)*5e-9)
	},
	"if97_table36": func(t *testing.T, input, _, value string) {
		got := tsat(t, number(t, input)*1000) + kelvinAtZero
		near(t, got, number(t, value), number(t, value)*5e-9)
	},
	// Four digits are printed, from an older formulation than IF97: a whole last
	// digit is allowed.
	"steam_table_psat": func(t *testing.T, input, _, value string) {
		near(t, psat(t, number(t, input))/1000, number(t, value), 0.00001)
	},
	"steam_table_tsat": func(t *testing.T, input, _, value string) {
		near(t, tsat(t, number(t, input)), number(t, value), 0.0501)
	},
	// Five digits are printed, some of them cut and not rounded: a whole last
	// digit is allowed.
	"usstd76_geometric": func(t *testing.T, input, _, value string) {
		near(t, standard(t, number(t, input))*1000, number(t, value), 1)
	},
	"usstd76_geopotential": func(t *testing.T, input, _, value string) {
		near(t, float64(pressureAtGeopotential(number(t, input)))*1000, number(t, value), 0.51)
	},
	"boiling_point_at_altitude": func(t *testing.T, input, _, value string) {
		got, err := AtAltitude(sensors.Metre(number(t, input)))
		if err != nil {
			t.Fatal(err)
		}
		near(t, float64(got), number(t, value), 0.0051)
	},
	"boiling_point": func(t *testing.T, input, unit, value string) {
		if unit != "hPa" {
			t.Fatalf("unit %q, want hPa", unit)
		}
		got, err := AtStationPressure(sensors.Kilopascal(number(t, input) / 10))
		if err != nil {
			t.Fatal(err)
		}
		near(t, float64(got), number(t, value), printed(value))
	},
	// What is told to the public: whole or half degrees.
	"popular_value": func(t *testing.T, input, _, value string) {
		got, err := AtAltitude(sensors.Metre(number(t, input)))
		if err != nil {
			t.Fatal(err)
		}
		near(t, float64(got), number(t, value), math.Max(printed(value), 0.1))
	},
	// The formulas as printed, worked out anew beside the code.
	"formula": func(t *testing.T, _, _, value string) {
		for h := -500.0; h <= 11000; h += 250 {
			switch {
			case strings.Contains(value, "288.15"):
				want := 101325 * math.Pow(1-0.0065*h/288.15, 5.255876)
				near(t, float64(pressureAtGeopotential(h))*1000, want, 0.02)
			case strings.Contains(value, "6356766"):
				near(t, geopotential(sensors.Metre(h)), 6356766*h/(6356766+h), 1e-9)
			default:
				t.Fatalf("formula %q is not known here", value)
			}
		}
	},
	"validity": func(t *testing.T, _, _, value string) {
		low, high, found := strings.Cut(strings.TrimSuffix(value, " K"), "..")
		if !found {
			t.Fatalf("%q is no range", value)
		}
		near(t, float64(LowestTemperature)+kelvinAtZero, number(t, low), 1e-9)
		near(t, float64(HighestTemperature)+kelvinAtZero, number(t, high), 1e-9)
	},
	// The note warns of reduced pressures: such a one is refused at 1609 m.
	"note": func(t *testing.T, _, _, _ string) {
		err := CheckStationPressure(101.3, 1609)
		if err == nil || !strings.Contains(err.Error(), "reduced to sea level") {
			t.Errorf("sea-level pressure taken for a station pressure: %v", err)
		}
	},
}

var coefficients = map[string]float64{
	"n1": n1, "n2": n2, "n3": n3, "n4": n4, "n5": n5,
	"n6": n6, "n7": n7, "n8": n8, "n9": n9, "n10": n10,
}

func psat(t *testing.T, celsius float64) float64 {
	t.Helper()
	p, err := SaturationPressure(sensors.Celsius(celsius))
	if err != nil {
		t.Fatal(err)
	}
	return float64(p)
}

func tsat(t *testing.T, kilopascal float64) float64 {
	t.Helper()
	c, err := SaturationTemperature(sensors.Kilopascal(kilopascal))
	if err != nil {
		t.Fatal(err)
	}
	return float64(c)
}

func standard(t *testing.T, metre float64) float64 {
	t.Helper()
	p, err := StandardPressure(sensors.Metre(metre))
	if err != nil {
		t.Fatal(err)
	}
	return float64(p)
}

func near(t *testing.T, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("got %.10g, want %.10g within %g", got, want, tolerance)
	}
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	f, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// printed is half of the last printed digit, and a hair.
func printed(text string) float64 {
	_, decimals, _ := strings.Cut(text, ".")
	return 0.501 * math.Pow(10, -float64(len(decimals)))
}
