package main

import (
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"
)

// What each conversion prints. The figures are those of the sources that
// testdata/reference names: IAPWS R7-97 with the US Standard Atmosphere 1976,
// NIST Monograph 175, IEC 60751, and molar masses at 24.465 L/mol.
func TestCalcPrints(t *testing.T) {
	for _, c := range []struct{ line, want string }{
		{"boiling --altitude 1609", "94.62 °C"},
		{"boiling --altitude 0", "99.97 °C"},
		{"boiling --altitude=-400", "101.30 °C"},
		{"boiling --altitude -400", "101.30 °C"},
		{"boiling --pressure 83.4", "94.61 °C"},
		{"boiling --pressure 101.325", "99.97 °C"},
		{"boiling --pressure 100", "99.61 °C"},
		{"boiling --celsius 94.62", "83.43 kPa"},
		{"boiling --celsius 50", "12.35 kPa"},
		{"boiling --altitude 1609 --sea-level-pressure 101.325", "94.62 °C"},
		{"boiling --sea-level-pressure 100 --altitude 1609", "94.26 °C"},
		{"thermocouple --type K --mv 4.096", "99.99 °C"},
		{"thermocouple --type k --mv 3.096 --cold-junction 25", "100.00 °C"},
		{"thermocouple --type K --mv 2.436", "59.99 °C"},
		{"thermocouple --type K --mv -3.554", "-100.01 °C"},
		{"thermocouple --type=T --mv=-1.819", "-50.00 °C"},
		{"thermocouple --type K --celsius 100", "4.096 mV"},
		{"thermocouple --type K --celsius -10", "-0.392 mV"},
		{"thermocouple --type K --celsius 60 --cold-junction 25", "1.436 mV"},
		{"thermocouple --type J --celsius 25 --cold-junction -10", "1.778 mV"},
		{"thermocouple --type B --celsius 40", "0.000 mV"},
		{"rtd --ohms 138.51", "100.01 °C"},
		{"rtd --ohms 138.51 --r0 100", "100.01 °C"},
		{"rtd --ohms 1385.055 --r0 1000", "100.00 °C"},
		{"rtd --ohms 80.31", "-49.99 °C"},
		{"rtd --celsius 100", "138.51 ohm"},
		{"rtd --celsius -10", "96.09 ohm"},
		{"rtd --celsius 50 --r0 1000", "1193.97 ohm"},
		{"units --gas h2s --ppm 10", "13.93 mg/m³"},
		{"units --gas H2S --mg-m3 14", "10.05 ppm"},
		{"units --gas so2 --ppm 1", "2.618 mg/m³"},
		{"units --gas nh3 --ppm 50", "34.80 mg/m³"},
		{"units --gas co --mg-m3 40", "34.94 ppm"},
		{"units --gas h2s --ppm 0.0005", "0.0006965 mg/m³"},
		{"units --gas h2s --ppm 0", "0.00 mg/m³"},
	} {
		code, out, said := try(append([]string{"calc"}, strings.Fields(c.line)...)...)
		if code != exitWell || out != c.want+"\n" || said != "" {
			t.Errorf("calc %s: code %d, out %q, said %q; want %q", c.line, code, out, said, c.want)
		}
	}
}

// With --json, before or after the conversion's name, the answer is one object
// of value and unit, with more digits than are printed.
func TestCalcJSON(t *testing.T) {
	for _, c := range []struct {
		line  string
		value float64
		near  float64
		unit  string
	}{
		{"boiling --altitude 1609 --json", 94.62, 0.005, "°C"},
		{"--json boiling --celsius 94.62", 83.432, 0.005, "kPa"},
		{"thermocouple --json --type K --mv 4.096", 99.9944, 0.0005, "°C"},
		{"thermocouple --type K --celsius 100 --json", 4.09623, 0.00001, "mV"},
		{"rtd --ohms 138.51 --json", 100.0119, 0.0005, "°C"},
		{"rtd --celsius 100 --json", 138.5055, 1e-9, "ohm"},
		{"units --gas h2s --ppm 10 --json", 13.9299, 0.0005, "mg/m³"},
		{"units --gas h2s --mg-m3 14 --json", 10.0503, 0.0005, "ppm"},
	} {
		code, out, said := try(append([]string{"calc"}, strings.Fields(c.line)...)...)
		var got map[string]any
		if err := json.Unmarshal([]byte(out), &got); err != nil || code != exitWell || said != "" || len(got) != 2 {
			t.Errorf("calc %s: code %d, out %q, said %q, %v", c.line, code, out, said, err)
			continue
		}
		value, _ := got["value"].(float64)
		if math.Abs(value-c.value) > c.near || got["unit"] != c.unit {
			t.Errorf("calc %s: %v %v, want %v %s", c.line, got["value"], got["unit"], c.value, c.unit)
		}
	}
}

// A value outside the range of its conversion is not well: exit code 1. What is
// asked for wrongly is wrong use: exit code 2. Neither prints a number.
func TestCalcRefuses(t *testing.T) {
	for _, c := range []struct {
		line string
		code int
		says string
	}{
		{"boiling --altitude 11001", exitNotWell, "give metres above sea level"},
		{"boiling --pressure 0.5", exitNotWell, "give an absolute pressure"},
		{"boiling --pressure -1", exitNotWell, "give an absolute pressure"},
		{"boiling --celsius -0.1", exitNotWell, "give a temperature from 0"},
		{"boiling --altitude 1609 --sea-level-pressure 1013", exitNotWell, "1 kPa is 10 hPa"},
		{"thermocouple --type K --mv 60", exitNotWell, "open circuit"},
		{"thermocouple --type K --mv -6", exitNotWell, "swapped wires"},
		{"thermocouple --type B --mv 0", exitNotWell, "two temperatures"},
		{"thermocouple --type K --celsius 1400", exitNotWell, "-270 to 1372 °C"},
		{"thermocouple --type B --mv 1 --cold-junction -5", exitNotWell, "reference junction"},
		{"rtd --ohms 0", exitNotWell, "short circuit"},
		{"rtd --ohms 5000", exitNotWell, "open circuit"},
		{"rtd --ohms 100 --r0 0", exitNotWell, "100 for a Pt100"},
		{"rtd --celsius -201", exitNotWell, "-200 to 850 °C"},
		{"units --gas h2s --ppm -1", exitNotWell, "give 0 to 1000000 ppm"},

		{"boiling", exitWrongUse, "--altitude, --pressure, --celsius"},
		{"boiling --altitude 1 --pressure 2", exitWrongUse, "--altitude and --pressure can't be used together"},
		{"boiling --celsius 1 --pressure 2", exitWrongUse, "can't be used together"},
		{"boiling --sea-level-pressure 101", exitWrongUse, "give one of"},
		{"boiling --pressure 83 --sea-level-pressure 101", exitWrongUse, "needs --altitude"},
		{"boiling --altitude high", exitWrongUse, `expected a number, not "high"`},
		{"boiling --altitude NaN", exitWrongUse, "expected a number"},
		{"boiling --altitude -inf", exitWrongUse, "expected a number"},
		{"boiling --altitude --json", exitWrongUse, `expected a number, not "--json"`},
		{"boiling --altitude", exitWrongUse, "nothing follows"},
		{"boiling --altitude=", exitWrongUse, "expected a number"},
		{"boiling 1609", exitWrongUse, "unexpected argument 1609"},
		{"thermocouple --mv 4", exitWrongUse, "missing flags: --type"},
		{"thermocouple --type K", exitWrongUse, "--mv or --celsius"},
		{"thermocouple --type K --mv 4 --celsius 100", exitWrongUse, "can't be used together"},
		{"thermocouple --type X --mv 4", exitWrongUse, `no thermocouple type "X"`},
		{"rtd", exitWrongUse, "--ohms or --celsius"},
		{"rtd --ohms 100 --celsius 0", exitWrongUse, "can't be used together"},
		{"units --ppm 1", exitWrongUse, "missing flags: --gas"},
		{"units --gas h2s", exitWrongUse, "--ppm or --mg-m3"},
		{"units --gas h2s --ppm 1 --mg-m3 1", exitWrongUse, "can't be used together"},
		{"units --gas other --ppm 1", exitWrongUse, "h2s, so2, nh3, co"},
		{"units --gas phosgene --ppm 1", exitWrongUse, "h2s, so2, nh3, co"},
	} {
		code, out, said := try(append([]string{"calc"}, strings.Fields(c.line)...)...)
		if code != c.code || out != "" || !strings.Contains(said, c.says) {
			t.Errorf("calc %s: code %d, out %q, said %q; want code %d and %q", c.line, code, out, said, c.code, c.says)
		}
	}
}

// A station pressure typed in hectopascals is converted as told, with a word.
func TestCalcBoilingNotesOddPressure(t *testing.T) {
	code, out, said := try("calc", "boiling", "--pressure", "834")
	if code != exitWell || out != "172.15 °C\n" || !strings.Contains(said, "1 kPa is 10 hPa") {
		t.Errorf("code %d, out %q, said %q", code, out, said)
	}
}

// An answer that can't be written is no success.
func TestCalcBrokenOutput(t *testing.T) {
	var said strings.Builder
	code := run([]string{"calc", "rtd", "--celsius", "0"}, console{Out: brokenWriter{}, Err: &said})
	if code != exitNotWell || !strings.Contains(said.String(), "pipe is gone") {
		t.Errorf("code %d, said %q", code, said.String())
	}
}

type brokenWriter struct{}

func (brokenWriter) Write([]byte) (int, error) { return 0, errors.New("pipe is gone") }

// FuzzCalc feeds the conversions any words: nothing panics, and there is either
// an answer or a reason why not.
func FuzzCalc(f *testing.F) {
	for _, line := range []string{"boiling --altitude 1609", "thermocouple --type K --mv -3.5", "rtd --ohms=1e400", "units -", "-- --", "--json rtd --celsius 0x1p-2"} {
		f.Add(line)
	}
	f.Fuzz(func(t *testing.T, line string) {
		code, out, said := try(append([]string{"calc"}, strings.Fields(line)...)...)
		switch {
		case code == exitWell && out == "":
			t.Errorf("calc %q: well, and no answer", line)
		case code != exitWell && (out != "" || said == "" || code > exitWrongUse):
			t.Errorf("calc %q: code %d, out %q, said %q", line, code, out, said)
		}
	})
}
