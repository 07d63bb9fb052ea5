package bench

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"simmerline/sensors"
)

// An unknown key put anywhere among the keys of the studio's bench is found
// exactly where it was put, and nothing else is.
func TestUnknownKeyIsFoundWhereItStands(t *testing.T) {
	text := read(t, benches+"/good/studio.yaml")
	lines := strings.Split(string(text), "\n")
	rapid.Check(t, func(t *rapid.T) {
		i := rapid.IntRange(0, len(lines)-1).Filter(func(i int) bool {
			line := strings.TrimSpace(lines[i])
			return strings.Contains(line, ": ") && line[0] >= 'a' && line[0] <= 'z'
		}).Draw(t, "line")
		indent := len(lines[i]) - len(strings.TrimLeft(lines[i], " "))
		mutated := strings.Join(lines[:i], "\n") + "\n" + strings.Repeat(" ", indent) + "zzzzzz: 1\n" + strings.Join(lines[i:], "\n")
		_, faults := Parse("x", []byte(mutated))
		if len(faults) != 1 || faults[0].Line != i+1 || faults[0].Column != indent+1 || !strings.Contains(faults[0].What, `"zzzzzz" is not known`) {
			t.Fatalf("put at %d:%d, found %v", i+1, indent+1, faults)
		}
	})
}

// Cut anywhere, the studio's bench is either whole enough or has faults with
// places; it never comes out silently smaller in what is required.
func TestCutFileIsNeverABenchWithoutPorts(t *testing.T) {
	text := read(t, benches+"/good/studio.yaml")
	for n := 0; n < len(text); n += 7 {
		b, faults := Parse("x", text[:n])
		if b != nil && len(b.Ports) == 0 {
			t.Fatalf("cut at byte %d it is a bench without ports", n)
		}
		checkFaults(t, text[:n], faults)
	}
}

// Figures with units come out in the base unit, by the definitions of the
// units: °C = (°F − 32) × 5/9; 1 hPa = 1 mbar = 0.1 kPa; 1 ft = 0.3048 m exactly
// (international foot, NIST SP 811 appendix B.8).
func TestFiguresCarryTheirUnits(t *testing.T) {
	slow := map[string]func(float64) float64{
		"C": func(v float64) float64 { return v }, "°C": func(v float64) float64 { return v },
		"F": func(v float64) float64 { return (v - 32) * 5 / 9 }, "°F": func(v float64) float64 { return (v - 32) * 5 / 9 },
		"kPa": func(v float64) float64 { return v }, "hPa": func(v float64) float64 { return v / 10 }, "mbar": func(v float64) float64 { return v / 10 },
		"ppm": func(v float64) float64 { return v }, "ppb": func(v float64) float64 { return v / 1000 },
		"m": func(v float64) float64 { return v }, "ft": func(v float64) float64 { return v * 0.3048 },
		"s": func(v float64) float64 { return v }, "ms": func(v float64) float64 { return v / 1000 },
		"min": func(v float64) float64 { return v * 60 }, "h": func(v float64) float64 { return v * 3600 },
	}
	dims := map[string][]string{"C": {"C", "°C", "F", "°F"}, "kPa": {"kPa", "hPa", "mbar"}, "ppm": {"ppm", "ppb"}, "m": {"m", "ft"}, "s": {"s", "ms", "min", "h"}}
	byName := map[string]dimension{"C": temperature, "kPa": pressure, "ppm": ppm, "m": height, "s": seconds}
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom([]string{"C", "kPa", "ppm", "m", "s"}).Draw(t, "dimension")
		word := rapid.SampledFrom(dims[name]).Draw(t, "unit")
		value := float64(rapid.IntRange(-1e6, 1e6).Draw(t, "value")) / 100
		blank := rapid.SampledFrom([]string{"", " ", "  "}).Draw(t, "blank")
		got, trouble := byName[name].parse(fmt.Sprintf("%.2f%s%s", value, blank, word))
		if want := slow[word](value); trouble != nil || math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
			t.Fatalf("%v %s came out as %v (%v), not %v", value, word, got, trouble, want)
		}
		for other, words := range dims {
			if other == name {
				continue
			}
			if _, trouble := byName[name].parse(fmt.Sprintf("%.2f %s", value, words[0])); trouble == nil {
				t.Fatalf("%s was taken for a figure in %s", words[0], name)
			}
		}
	})
}

func TestFiguresThatAreNone(t *testing.T) {
	for _, text := range []string{"", "C", "90", "90 K", "NaN C", "inf C", "0x5A C", "1e2 C", "1_000 C", ".5 C", "5. C", "--5 C", "+-5 C", "5 5 C", "0,5 C", "90 CC", "90 °", "9e999 C", "99999999999 C", "−5 C", "5..6 C"} {
		if v, trouble := temperature.parse(text); trouble == nil {
			t.Errorf("%q was taken for %v", text, v)
		} else if trouble.what == "" || trouble.mend == "" {
			t.Errorf("%q: what %q, mend %q", text, trouble.what, trouble.mend)
		}
	}
	for _, text := range []string{"", "..", "1..", "..2 C", "1..2", "2..1 C", "1..1 C", "1...2 C", "1..2..3 C", "1 C..2 C", "1-2 C"} {
		if low, high, trouble := temperature.parseSpan(text); trouble == nil {
			t.Errorf("%q was taken for %v to %v", text, low, high)
		}
	}
}

// A device that sends °F gives the same reading as one that sends °C.
func TestFahrenheitChannelReadsInCelsius(t *testing.T) {
	b, faults := Parse("fahrenheit.yaml", read(t, benches+"/good/fahrenheit.yaml"))
	if b == nil {
		t.Fatal(faults)
	}
	for fahrenheit, want := range map[float64]float64{32: 0, 212: 100, 77: 25} {
		r := b.Ports[0].Channels()[0].Convert(0, fahrenheit)
		if got, ok := r.Value.Celsius(); !ok || math.Abs(float64(got)-want) > 1e-9 {
			t.Errorf("%v °F reads as %v (%s), not %v °C", fahrenheit, r.Value, r.Reason, want)
		}
	}
}

// An inverted contact is closed at 0.
func TestInvertedContact(t *testing.T) {
	b, _ := Parse("modbus.yaml", read(t, benches+"/good/modbus.yaml"))
	for _, ch := range b.Ports[1].Channels() {
		if ch.Quantity != sensors.Contact {
			continue
		}
		for raw, plain := range map[float64]bool{0: false, 1: true} {
			want := plain != (ch.Name == "hood-air")
			if closed, ok := ch.Convert(0, raw).Value.Closed(); !ok || closed != want {
				t.Errorf("%s at %v is closed %v, not %v", ch.Name, raw, closed, want)
			}
		}
	}
}

// slips agrees with its definition, worked out by plain recursion.
func TestSlipsAgainstRecursion(t *testing.T) {
	var slow func(a, b string) int
	slow = func(a, b string) int {
		if a == "" || b == "" {
			return len(a) + len(b)
		}
		x, y := len(a)-1, len(b)-1
		change := 1
		if a[x] == b[y] {
			change = 0
		}
		least := min(slow(a[:x], b)+1, slow(a, b[:y])+1, slow(a[:x], b[:y])+change)
		if x > 0 && y > 0 && a[x] == b[y-1] && a[x-1] == b[y] {
			least = min(least, slow(a[:x-1], b[:y-1])+1)
		}
		return least
	}
	word := rapid.StringMatching(`[abc]{0,6}`)
	rapid.Check(t, func(t *rapid.T) {
		a, b := word.Draw(t, "a"), word.Draw(t, "b")
		if got, want := slips(a, b), slow(a, b); got != want {
			t.Fatalf("%q to %q: %d slips, not %d", a, b, got, want)
		}
	})
}

func TestHugeFileIsRefusedUnread(t *testing.T) {
	_, faults := Parse("x", bytes.Repeat([]byte("a: [\n"), MaxBytes))
	if len(faults) != 1 || !strings.Contains(faults[0].What, "more than") {
		t.Fatal(faults)
	}
}

func TestFaultsAreBounded(t *testing.T) {
	var text strings.Builder
	for i := range 3000 {
		fmt.Fprintf(&text, "k%d: 1\n", i)
	}
	_, faults := Parse("x", []byte(text.String()))
	if len(faults) != maxFaults+1 || !strings.Contains(faults[maxFaults].What, "more faults") {
		t.Fatalf("%d faults", len(faults))
	}
}

// A file saved with carriage returns and line feeds, or with a byte-order mark,
// is the same bench, and its faults stand at the same places.
func TestOtherLineEndsChangeNothing(t *testing.T) {
	for _, path := range append(samples(t, "good"), benches+"/bad/every-kind.yaml", benches+"/bad/rules.yaml") {
		text := read(t, path)
		plain, faults := Parse("x", text)
		for _, other := range [][]byte{bytes.ReplaceAll(text, []byte("\n"), []byte("\r\n")), append([]byte("\xef\xbb\xbf"), text...)} {
			b, others := Parse("x", other)
			if fmt.Sprint(others) != fmt.Sprint(faults) {
				t.Errorf("%s: %v became %v", path, faults, others)
			}
			if plain != nil && Explain(b) != Explain(plain) {
				t.Errorf("%s is another bench", path)
			}
		}
	}
}
