package convert

import (
	"fmt"
	"math"

	"simmerline/sensors"
)

// Ohm is an electrical resistance in ohms.
type Ohm float64

// String prints the resistance to a hundredth, as "138.51 ohm".
func (r Ohm) String() string { return fmt.Sprintf("%.2f ohm", float64(r)) }

// The Callendar–Van Dusen coefficients of IEC 60751:2008; C counts below 0 °C.
const (
	rtdA = 3.9083e-3  // 1/K
	rtdB = -5.775e-7  // 1/K²
	rtdC = -4.183e-12 // 1/K⁴
)

// The range of IEC 60751.
const (
	LowestRTD  sensors.Celsius = -200
	HighestRTD sensors.Celsius = 850
)

// The nominal resistances at 0 °C that are taken: from a tenth of a Pt10 to ten
// times a Pt1000.
const (
	lowestNominal  Ohm = 1
	highestNominal Ohm = 10000
)

// printedRatio is half of the last digit that tables of the standard print, as
// a part of the nominal resistance: 0.005 ohm for a Pt100. A resistance beyond
// an end of the range by no more than that is taken for that end.
const printedRatio = 0.00005

// RTDResistance gives the resistance of an industrial platinum thermometer of
// nominal resistance r0 at 0 °C (100 for a Pt100), at -200 to 850 °C, by the
// Callendar–Van Dusen equation of IEC 60751:2008.
func RTDResistance(t sensors.Celsius, r0 Ohm) (Ohm, error) {
	if err := checkNominal(r0); err != nil {
		return 0, err
	}
	if !(t >= LowestRTD && t <= HighestRTD) {
		return 0, fmt.Errorf("convert: a platinum thermometer can't be converted at %g °C: IEC 60751 holds from %g to %g °C",
			float64(t), float64(LowestRTD), float64(HighestRTD))
	}
	ratio, _ := rtdRatio(float64(t))
	return r0 * Ohm(ratio), nil
}

// RTDTemperature gives the temperature of an industrial platinum thermometer of
// nominal resistance r0 at 0 °C from its resistance, within -200 to 850 °C
// (18.52 to 390.48 ohm for a Pt100; IEC 60751:2008). Its error tells a
// resistance too small, as a short or the wrong nominal resistance would give,
// from one too large, as an open circuit would.
func RTDTemperature(r, r0 Ohm) (sensors.Celsius, error) {
	if err := checkNominal(r0); err != nil {
		return 0, err
	}
	if math.IsNaN(float64(r)) {
		return 0, fmt.Errorf("convert: %v ohm is no resistance: give a number", float64(r))
	}
	ratio := float64(r / r0)
	low, _ := rtdRatio(float64(LowestRTD))
	high, _ := rtdRatio(float64(HighestRTD))
	switch {
	case ratio < low-printedRatio:
		return 0, fmt.Errorf("convert: %g ohm is less than a probe of %g ohm has at %g °C (%s): look for a short circuit, or the wrong nominal resistance",
			float64(r), float64(r0), float64(LowestRTD), r0*Ohm(low))
	case ratio > high+printedRatio:
		return 0, fmt.Errorf("convert: %g ohm is more than a probe of %g ohm has at %g °C (%s): look for an open circuit, or the wrong nominal resistance",
			float64(r), float64(r0), float64(HighestRTD), r0*Ohm(high))
	}
	t := rtdTemperature(ratio)
	return sensors.Celsius(min(max(t, float64(LowestRTD)), float64(HighestRTD))), nil
}

// rtdRatio is R/R0 at a temperature, and its slope.
func rtdRatio(t float64) (ratio, slope float64) {
	ratio = 1 + t*(rtdA+t*rtdB)
	slope = rtdA + 2*t*rtdB
	if t < 0 {
		ratio += rtdC * (t - 100) * t * t * t
		slope += rtdC * (4*t - 300) * t * t
	}
	return ratio, slope
}

// rtdTemperature inverts rtdRatio: from 0 °C up by the quadratic formula, below
// by Newton's steps from there. At -200 °C the quadratic is 2.4 K off, and
// the function so nearly straight that four steps reach the last digit.
func rtdTemperature(ratio float64) float64 {
	t := (-rtdA + math.Sqrt(rtdA*rtdA-4*rtdB*(1-ratio))) / (2 * rtdB)
	if ratio >= 1 {
		return t
	}
	for range 8 {
		at, slope := rtdRatio(t)
		step := (at - ratio) / slope
		t -= step
		if math.Abs(step) < 1e-10 {
			break
		}
	}
	return t
}

func checkNominal(r0 Ohm) error {
	if !(r0 >= lowestNominal && r0 <= highestNominal) {
		return fmt.Errorf("convert: a nominal resistance of %g ohm is none of a platinum probe: give %g to %g ohm (100 for a Pt100, 1000 for a Pt1000)",
			float64(r0), float64(lowestNominal), float64(highestNominal))
	}
	return nil
}
