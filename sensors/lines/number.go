package lines

import (
	"math"
	"strconv"
	"strings"
	"time"

	"simmerline/sensors"
)

// mostDigits bounds the text of a number; no sensor prints more.
const mostDigits = 32

// reading turns the text of one value into a reading of its channel; ok is
// false when the text is damaged, or not one that this channel can send.
func reading(c *sensors.Channel, text string, at time.Duration) (r sensors.Reading, ok bool) {
	if c.Quantity == sensors.Contact {
		if raw, known := contact(text); known {
			return c.Convert(at, raw), true
		}
	} else if raw, isNumber := number(ownUnitOff(c, text)); isNumber {
		if math.IsInf(raw, 0) { // too large for a float64
			raw = math.NaN()
		}
		return c.Convert(at, raw), true
	}
	if reason := wordReason(text, c.Quantity); reason != sensors.ReasonNone {
		return c.Fault(at, math.NaN(), reason), true
	}
	return sensors.Reading{}, false
}

// number reads a decimal number by the grammar of the package comment, which is
// narrower than strconv's. One too large comes out infinite.
func number(text string) (value float64, ok bool) {
	if len(text) == 0 || len(text) > mostDigits {
		return 0, false
	}
	rest := text
	if rest[0] == '+' || rest[0] == '-' {
		rest = rest[1:]
	}
	if rest, ok = digitsOff(rest); !ok {
		return 0, false
	}
	if strings.HasPrefix(rest, ".") {
		if rest, ok = digitsOff(rest[1:]); !ok {
			return 0, false
		}
	}
	if len(rest) > 0 && (rest[0] == 'e' || rest[0] == 'E') {
		rest = rest[1:]
		if len(rest) > 0 && (rest[0] == '+' || rest[0] == '-') {
			rest = rest[1:]
		}
		if rest, ok = digitsOff(rest); !ok {
			return 0, false
		}
	}
	if rest != "" {
		return 0, false
	}
	// The only error left is a number out of range, which comes out infinite.
	value, _ = strconv.ParseFloat(text, 64)
	return value, true
}

// digitsOff takes the digits off the front; ok is false when there are none.
func digitsOff(text string) (rest string, ok bool) {
	n := 0
	for n < len(text) && text[n] >= '0' && text[n] <= '9' {
		n++
	}
	return text[n:], n > 0
}

// ownUnitOff takes off the unit in which the channel is kept, where the raw
// number is in that unit.
func ownUnitOff(c *sensors.Channel, text string) string {
	if c.Offset != 0 || c.Scale != 0 && c.Scale != 1 {
		return text
	}
	if bare, cut := strings.CutSuffix(text, c.Quantity.Unit()); cut {
		return bare
	}
	if c.Quantity == sensors.Temperature {
		return strings.TrimSuffix(text, "C")
	}
	return text
}

// contact reads what a contact may send; known is false for anything else.
func contact(text string) (raw float64, known bool) {
	switch {
	case isAny(text, "1", "on", "true", "closed"):
		return 1, true
	case isAny(text, "0", "off", "false", "open"):
		return 0, true
	default:
		return 0, false
	}
}

// wordReason says what a word in place of a number means, and ReasonNone where
// it is none of the package comment's.
func wordReason(word string, q sensors.Quantity) sensors.Reason {
	switch {
	case isAny(word, "", "nan", "-nan", "inf", "-inf", "+inf", "ovf", "-ovf", "null", "none", "n/a", "--", "err", "error"):
		return sensors.ReasonNotANumber
	case isAny(word, "fault", "fail"):
		return sensors.ReasonDeviceFault
	case isAny(word, "open", "open-circuit"):
		return sensors.ReasonOpenCircuit
	case isAny(word, "short", "shorted", "short-circuit"):
		return sensors.ReasonShortCircuit
	case isAny(word, "over", "over-range"):
		if q == sensors.GasLevel {
			return sensors.ReasonOverRange
		}
		return sensors.ReasonOutOfRange
	case isAny(word, "under", "under-range"):
		if q == sensors.GasLevel {
			return sensors.ReasonUnderRange
		}
		return sensors.ReasonOutOfRange
	default:
		return sensors.ReasonNone
	}
}

func isAny(word string, of ...string) bool {
	for _, w := range of {
		if strings.EqualFold(word, w) {
			return true
		}
	}
	return false
}
