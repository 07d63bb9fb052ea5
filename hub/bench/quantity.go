package bench

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"simmerline/sensors"
)

// unit is one way to write a dimension: base = number × scale + offset.
type unit struct {
	word          string
	scale, offset float64
}

// dimension is what a figure with a unit may be. The first unit is the base
// one, in which the figure is kept.
type dimension struct {
	is      string // "a temperature"
	example string // "90 C"
	units   []unit
}

// The dimensions of a bench file. Degrees may be written with or without the
// sign: C or °C.
var (
	temperature = dimension{"a temperature", "90 C", []unit{{"C", 1, 0}, {"F", 5. / 9, -160. / 9}}}
	kelvins     = dimension{"a difference of temperature", "1 K", []unit{{"K", 1, 0}, {"C", 1, 0}, {"F", 5. / 9, 0}}}
	perMinute   = dimension{"a rate of temperature", "2 K/min", []unit{{"K/min", 1, 0}, {"C/min", 1, 0}, {"F/min", 5. / 9, 0}}}
	ppm         = dimension{"a gas level", "0.5 ppm", []unit{{"ppm", 1, 0}, {"ppb", 1e-3, 0}}}
	ppmRate     = dimension{"a rate of a gas level", "1 ppm/min", []unit{{"ppm/min", 1, 0}, {"ppb/min", 1e-3, 0}}}
	pressure    = dimension{"a pressure", "83.4 kPa", []unit{{"kPa", 1, 0}, {"hPa", 0.1, 0}, {"mbar", 0.1, 0}}}
	kPaRate     = dimension{"a rate of pressure", "1 kPa/min", []unit{{"kPa/min", 1, 0}, {"hPa/min", 0.1, 0}}}
	height      = dimension{"an altitude", "1609 m", []unit{{"m", 1, 0}, {"ft", 0.3048, 0}}}
	seconds     = dimension{"a time", "10 s", []unit{{"s", 1, 0}, {"ms", 1e-3, 0}, {"min", 60, 0}, {"h", 3600, 0}}}
)

// of gives the dimension of a quantity, and those of its differences and rates.
func of(q sensors.Quantity) (value, difference, rate dimension) {
	switch q {
	case sensors.GasLevel:
		return ppm, ppm, ppmRate
	case sensors.Pressure:
		return pressure, pressure, kPaRate
	default:
		return temperature, kelvins, perMinute
	}
}

// find gives the unit of a word.
func (d dimension) find(word string) (unit, bool) {
	word = strings.TrimPrefix(word, "°")
	i := slices.IndexFunc(d.units, func(u unit) bool { return u.word == word })
	if i < 0 {
		return unit{}, false
	}
	return d.units[i], true
}

func (d dimension) words() []string {
	var words []string
	for _, u := range d.units {
		words = append(words, u.word)
	}
	return words
}

// problem is what is wrong with one value, and how to mend it.
type problem struct{ what, mend string }

// parse reads "90 C", "90 °C" or "90C" into the base unit.
func (d dimension) parse(text string) (float64, *problem) {
	number, word := splitUnit(text)
	value, trouble := parseNumber(number, d.example)
	if number == "" {
		trouble = &problem{quote(text) + " is not " + d.is, "write it as " + d.example}
	}
	if trouble != nil {
		return 0, trouble
	}
	u, trouble := d.unit(text, word)
	if trouble != nil {
		return 0, trouble
	}
	return value*u.scale + u.offset, nil
}

// parseSpan reads "-20..150 C" into the base unit.
func (d dimension) parseSpan(text string) (low, high float64, trouble *problem) {
	example := "-20..150 " + d.units[0].word
	first, rest, found := strings.Cut(text, "..")
	if !found {
		return 0, 0, &problem{quote(text) + " is no range", "write its ends with two dots between them, as " + example}
	}
	number, word := splitUnit(rest)
	if low, trouble = parseNumber(first, example); trouble != nil {
		return 0, 0, trouble
	}
	if high, trouble = parseNumber(number, example); trouble != nil {
		return 0, 0, trouble
	}
	u, trouble := d.unit(text, word)
	if trouble != nil {
		return 0, 0, trouble
	}
	if low >= high {
		return 0, 0, &problem{quote(text) + " has its ends in the wrong order", "write the lower end first"}
	}
	return low*u.scale + u.offset, high*u.scale + u.offset, nil
}

func (d dimension) unit(text, word string) (unit, *problem) {
	if word == "" {
		return unit{}, &problem{quote(text) + " has no unit", fmt.Sprintf("write it in %s, as %s", listed(d.words()), d.example)}
	}
	u, ok := d.find(word)
	if !ok {
		return unit{}, &problem{fmt.Sprintf("%s is not %s: its unit is %s", quote(text), d.is, quote(word)),
			fmt.Sprintf("write it in %s, as %s", listed(d.words()), d.example)}
	}
	return u, nil
}

// splitUnit parts the figure from the unit behind it.
func splitUnit(text string) (number, word string) {
	text = strings.TrimSpace(text)
	end := strings.IndexFunc(text, func(r rune) bool { return !strings.ContainsRune("+-0123456789., ", r) })
	if end < 0 {
		end = len(text)
	}
	return strings.TrimSpace(text[:end]), strings.TrimSpace(text[end:])
}

// largest bounds every figure in a bench file, so that none of the arithmetic
// on it can overflow.
const largest = 1e9

// parseNumber reads a plain decimal number: a sign, digits, a point, digits.
func parseNumber(text, example string) (float64, *problem) {
	text = strings.TrimSpace(text)
	if strings.Contains(text, ",") {
		return 0, &problem{quote(text) + " holds a comma", "write the decimal point as a point, and no commas between thousands"}
	}
	digits := strings.TrimLeft(text, "+-")
	value, err := strconv.ParseFloat(text, 64)
	if err != nil || digits == "" || strings.Trim(text[1:], "0123456789.") != "" || digits[0] == '.' || digits[len(digits)-1] == '.' {
		return 0, &problem{quote(text) + " is not a number", "write a plain number, as " + example}
	}
	if value > largest || value < -largest {
		return 0, &problem{quote(text) + " is beyond anything on a bench", "write a plain number, as " + example}
	}
	return value, nil
}

// figure prints a number in its shortest form, to six digits.
func figure(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
