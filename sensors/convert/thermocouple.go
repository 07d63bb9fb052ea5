package convert

import (
	"fmt"
	"math"
	"strings"

	"simmerline/sensors"
)

// Millivolt is an electromotive force in millivolts.
type Millivolt float64

// String prints the emf to a microvolt, as "4.096 mV".
func (e Millivolt) String() string { return fmt.Sprintf("%.3f mV", float64(e)) }

// Thermocouple is a type of thermocouple by its letter. The zero value is none.
type Thermocouple uint8

// The lettered types with an ITS-90 reference function.
const (
	ThermocoupleUnspecified Thermocouple = iota
	TypeB
	TypeE
	TypeJ
	TypeK
	TypeN
	TypeR
	TypeS
	TypeT
)

// Thermocouples lists every type, for tables and tests.
var Thermocouples = []Thermocouple{TypeB, TypeE, TypeJ, TypeK, TypeN, TypeR, TypeS, TypeT}

// String gives the letter of the type.
func (tc Thermocouple) String() string {
	if tc == ThermocoupleUnspecified || tc > TypeT {
		return "unspecified"
	}
	return string("BEJKNRST"[tc-TypeB])
}

// ParseThermocouple reads the letter of a type, large or small. Its error names
// the letters there are.
func ParseThermocouple(letter string) (Thermocouple, error) {
	for _, tc := range Thermocouples {
		if strings.EqualFold(letter, tc.String()) {
			return tc, nil
		}
	}
	return ThermocoupleUnspecified, fmt.Errorf("convert: no thermocouple type %q: give one of B, E, J, K, N, R, S, T", letter)
}

// reference holds the functions of one type.
type reference struct {
	// forward gives mV from °C; its pieces join, and low and high are in °C.
	forward []piece
	// hump is the Gaussian a0·exp(a1·(t-a2)²) that type K adds above 0 °C.
	hump [3]float64
	// inverse gives °C from mV, to a few hundredths; low and high are in mV.
	inverse []piece
	// lowest and highest are the ends of the inverse in °C. The ends in mV are
	// the same, rounded to a microvolt.
	lowest, highest float64
}

// piece is a polynomial, constant term first, and where it holds.
type piece struct {
	low, high float64
	terms     []float64
}

func (tc Thermocouple) reference() (*reference, error) {
	switch tc {
	case TypeB:
		return &referenceB, nil
	case TypeE:
		return &referenceE, nil
	case TypeJ:
		return &referenceJ, nil
	case TypeK:
		return &referenceK, nil
	case TypeN:
		return &referenceN, nil
	case TypeR:
		return &referenceR, nil
	case TypeS:
		return &referenceS, nil
	case TypeT:
		return &referenceT, nil
	default:
		return nil, fmt.Errorf("convert: no thermocouple type %d: give one of B, E, J, K, N, R, S, T", uint8(tc))
	}
}

// EMF gives the voltage of a thermocouple whose measuring junction is at one
// temperature and whose reference junction is at another: the difference of two
// values of the reference function of NIST Monograph 175. Each temperature must
// lie in the range of that function (type K: -270 to 1372 °C); the error names
// the range.
func (tc Thermocouple) EMF(measuring, referenceJunction sensors.Celsius) (Millivolt, error) {
	hot, err := tc.voltage("measuring", measuring)
	if err != nil {
		return 0, err
	}
	cold, err := tc.voltage("reference", referenceJunction)
	if err != nil {
		return 0, err
	}
	return Millivolt(hot - cold), nil
}

// Temperature gives the temperature of the measuring junction from the measured
// voltage and the temperature of the reference junction: the reference
// junction's own voltage is added, and the sum turned into a temperature by the
// published inverse polynomial, made exact on the reference function.
//
// The sum must lie in the range of the published inverse (type K: -5.891 to
// 54.886 mV, -200 to 1372 °C). Type B has none below 250 °C: from 0 to 42 °C
// each of its voltages stands for two temperatures.
func (tc Thermocouple) Temperature(measured Millivolt, referenceJunction sensors.Celsius) (sensors.Celsius, error) {
	if math.IsNaN(float64(measured)) || math.IsInf(float64(measured), 0) {
		return 0, fmt.Errorf("convert: %v mV is no voltage: give a finite number", float64(measured))
	}
	cold, err := tc.voltage("reference", referenceJunction)
	if err != nil {
		return 0, err
	}
	ref, err := tc.reference()
	if err != nil {
		return 0, err
	}
	total := float64(measured) + cold
	low, high := ref.ends()
	switch {
	case total < low && tc == TypeB:
		return 0, fmt.Errorf("convert: type B tells no temperature from %.3f mV: its published inverse begins at %.3f mV (%g °C), "+
			"and from 0 to 42 °C each voltage stands for two temperatures; use another type below %g °C",
			total, ref.inverse[0].low, ref.lowest, ref.lowest)
	case total < low:
		return 0, fmt.Errorf("convert: type %s gives %.3f mV only below %g °C, where no inverse is published: look for swapped wires or another type",
			tc, total, ref.lowest)
	case total > high:
		return 0, fmt.Errorf("convert: type %s gives %.3f mV only above %g °C, where no inverse is published: look for an open circuit or another type",
			tc, total, ref.highest)
	}
	return sensors.Celsius(ref.temperature(total)), nil
}

// voltage is the reference function of the type, against 0 °C, within its range.
func (tc Thermocouple) voltage(junction string, t sensors.Celsius) (float64, error) {
	ref, err := tc.reference()
	if err != nil {
		return 0, err
	}
	low, high := ref.forward[0].low, ref.forward[len(ref.forward)-1].high
	if !(float64(t) >= low && float64(t) <= high) {
		return 0, fmt.Errorf("convert: the %s junction of type %s can't be converted at %g °C: its reference function holds from %g to %g °C",
			junction, tc, float64(t), low, high)
	}
	e, _ := ref.voltage(float64(t))
	return e, nil
}

// ends are the voltages between which the inverse is published. Its temperatures
// are exact and its voltages rounded, so the wider of the two counts; and a
// picovolt more, which adding the reference junction's voltage may cost.
func (r *reference) ends() (low, high float64) {
	low, _ = r.voltage(r.lowest)
	high, _ = r.voltage(r.highest)
	const hair = 1e-9
	return min(low, r.inverse[0].low) - hair, max(high, r.inverse[len(r.inverse)-1].high) + hair
}

// voltage is the reference function in mV and its slope in mV/K.
func (r *reference) voltage(t float64) (e, slope float64) {
	e, slope = pieceAt(r.forward, t).value(t)
	if a0, a1, a2 := r.hump[0], r.hump[1], r.hump[2]; a0 != 0 && t > 0 {
		bump := a0 * math.Exp(a1*(t-a2)*(t-a2))
		e += bump
		slope += 2 * a1 * (t - a2) * bump
	}
	return e, slope
}

// temperature inverts the reference function. The published inverse is within
// 0.06 K, so Newton's steps on the nearly straight function settle in three or
// four; the count is bounded because where two pieces join they differ by some
// nanovolts and the last steps may swing across that. A voltage that lies beyond
// an end only by rounding is taken for that end.
func (r *reference) temperature(e float64) float64 {
	t, _ := pieceAt(r.inverse, e).value(e)
	for range 8 {
		at, slope := r.voltage(t)
		step := (at - e) / slope
		t -= step
		if math.Abs(step) < 1e-9 {
			break
		}
	}
	return min(max(t, r.lowest), r.highest)
}

// pieceAt picks the first piece that reaches up to x. Neighbours may overlap;
// either will do there.
func pieceAt(pieces []piece, x float64) piece {
	for _, p := range pieces {
		if x <= p.high {
			return p
		}
	}
	return pieces[len(pieces)-1]
}

// value evaluates the polynomial and its derivative by Horner's rule.
func (p piece) value(x float64) (y, slope float64) {
	for i := len(p.terms) - 1; i >= 0; i-- {
		slope = slope*x + y
		y = y*x + p.terms[i]
	}
	return y, slope
}
