package convert

import (
	"fmt"

	"simmerline/sensors"
)

// MilligramPerCubicMetre is a gas concentration by mass, in mg/m³, in air at
// 25 °C and 101.325 kPa.
type MilligramPerCubicMetre float64

// String prints the concentration to a hundredth, as "13.93 mg/m³".
func (c MilligramPerCubicMetre) String() string { return fmt.Sprintf("%.2f mg/m³", float64(c)) }

// molarVolume is that of an ideal gas at 25 °C and 101.325 kPa, 24.465 L/mol:
// R·T/p with the SI's exact R = 8.314462618 J/(mol·K); joules over kilopascals
// are litres. 29 CFR 1910.1000 footnote (a) names the same air and rounds to
// 24.45; EU limits are stated for 20 °C (24.06), so their mg/m³ are 1.7 % more.
const molarVolume = 8.314462618 * 298.15 / 101.325

// mostPPM is all of the air.
const mostPPM = 1e6

// MolarMass gives the molar mass of a gas in g/mol (IUPAC atomic weights, two
// decimals); ok is false for a gas that has none here.
func MolarMass(gas sensors.Gas) (gramPerMole float64, ok bool) {
	switch gas {
	case sensors.HydrogenSulfide:
		return 34.08, true
	case sensors.SulfurDioxide:
		return 64.06, true
	case sensors.Ammonia:
		return 17.03, true
	case sensors.CarbonMonoxide:
		return 28.01, true
	default:
		return 0, false
	}
}

// ByMass turns a gas level of 0 to 1,000,000 ppm by volume into mg/m³ at 25 °C
// and 101.325 kPa: ppm × molar mass / molar volume.
func ByMass(gas sensors.Gas, level sensors.PPM) (MilligramPerCubicMetre, error) {
	perPPM, err := milligramPerPPM(gas)
	if err != nil {
		return 0, err
	}
	if !(level >= 0 && level <= mostPPM) {
		return 0, fmt.Errorf("convert: %g ppm is no concentration: give 0 to %.0f ppm", float64(level), float64(mostPPM))
	}
	return MilligramPerCubicMetre(float64(level) * perPPM), nil
}

// ByVolume turns mg/m³ at 25 °C and 101.325 kPa into ppm by volume, up to a
// million.
func ByVolume(gas sensors.Gas, c MilligramPerCubicMetre) (sensors.PPM, error) {
	perPPM, err := milligramPerPPM(gas)
	if err != nil {
		return 0, err
	}
	level := float64(c) / perPPM
	// A hair over is let through, so that all that ByMass gives comes back.
	if !(level >= 0 && level <= mostPPM*(1+1e-12)) {
		return 0, fmt.Errorf("convert: %g mg/m³ of %s is no concentration: give 0 to %.0f mg/m³, where there is no air left",
			float64(c), gas.Title(), mostPPM*perPPM)
	}
	return sensors.PPM(level), nil
}

func milligramPerPPM(gas sensors.Gas) (float64, error) {
	mass, ok := MolarMass(gas)
	if !ok {
		return 0, fmt.Errorf("convert: no molar mass is known for gas %q: give one of h2s, so2, nh3, co", gas)
	}
	return mass / molarVolume, nil
}
