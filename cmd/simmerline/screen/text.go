package screen

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode"

	"simmerline/hub"
	"simmerline/hub/bench"
	"simmerline/sensors"
)

// Units is in what a reader wants temperatures.
type Units uint8

// The choices. UnitsOfBench takes what the bench file says.
const (
	UnitsOfBench Units = iota
	UnitsCelsius
	UnitsFahrenheit
)

// of gives the units to print a state in.
func (u Units) of(s *hub.Snapshot) bench.Units {
	if u == UnitsFahrenheit || u == UnitsOfBench && s != nil && s.Fahrenheit {
		return bench.Fahrenheit
	}
	return bench.Celsius
}

// Printable makes a text fit for one line of a terminal: what could move the
// cursor, change colours or turn the direction of writing becomes a blank, and
// blanks in a row become one.
func Printable(text string) string {
	return strings.Join(strings.FieldsFunc(text, func(r rune) bool {
		return !unicode.IsPrint(r) || unicode.IsSpace(r) || r == unicode.ReplacementChar
	}), " ")
}

var celsiusText = regexp.MustCompile(`(-?\d+(?:\.\d+)?) °C`)

// inUnits turns the temperatures that a text gives in °C into the units wanted.
func inUnits(text string, units bench.Units) string {
	if units != bench.Fahrenheit {
		return text
	}
	return celsiusText.ReplaceAllStringFunc(text, func(found string) string {
		number, err := strconv.ParseFloat(strings.TrimSuffix(found, " °C"), 64)
		if err != nil {
			return found // the pattern takes numbers only, so this can't be
		}
		return units.Temperature(sensors.Celsius(number))
	})
}

// figure splits a value into its number and its unit; both are empty where
// there is no number to show.
func figure(v sensors.Value, units bench.Units) (number, unit string) {
	var text string
	switch v.Quantity() {
	case sensors.Temperature:
		c, _ := v.Celsius()
		text = units.Temperature(c)
	case sensors.GasLevel, sensors.Pressure:
		text = v.String()
	default:
		return "", ""
	}
	number, unit, _ = strings.Cut(text, " ")
	return number, unit
}

// figureText is a value as people read it; empty where there is no number.
func figureText(v sensors.Value, units bench.Units) string {
	number, unit := figure(v, units)
	return strings.TrimSpace(number + " " + unit)
}

// degrees is a temperature without its unit, and without a decimal where it
// needs none: a setpoint or the edge of a range. In °F it is whole, as people
// there know it.
func degrees(c sensors.Celsius, units bench.Units) string {
	if units == bench.Fahrenheit {
		return plainNumber(math.Round(c.Fahrenheit()))
	}
	return plainNumber(float64(c))
}

func plainNumber(n float64) string {
	return strconv.FormatFloat(math.Round(n*10)/10, 'f', -1, 64)
}

func unitOf(units bench.Units) string {
	if units == bench.Fahrenheit {
		return "°F"
	}
	return "°C"
}

// perMinute is a change of temperature in the units wanted.
func perMinute(kelvin float64, units bench.Units) float64 {
	if units == bench.Fahrenheit {
		return kelvin * 9 / 5
	}
	return kelvin
}

// clockTime is a time of day, or dashes where it is not known.
func clockTime(t time.Time, zone *time.Location) string {
	if t.IsZero() {
		return "--:--:--"
	}
	if zone == nil {
		zone = time.Local
	}
	return t.In(zone).Format("15:04:05")
}

// countdown is a length of time as minutes and seconds.
func countdown(d time.Duration) string {
	seconds := int(math.Ceil(d.Seconds()))
	return fmt.Sprintf("%d:%02d", seconds/60, seconds%60)
}

// lasted is a length of time in few letters.
func lasted(d time.Duration) string {
	switch d = d.Truncate(time.Second); {
	case d < time.Minute:
		return fmt.Sprintf("%d s", int(d.Seconds()))
	case d < time.Hour:
		return countdown(d) + " min"
	default:
		return fmt.Sprintf("%d h %02d min", int(d.Hours()), int(d.Minutes())%60)
	}
}
