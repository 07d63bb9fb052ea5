package boiling

import (
	"fmt"
	"math"

	"simmerline/sensors"
)

// The lowest layer of the US Standard Atmosphere 1976.
const (
	seaLevelPressure = sensors.Kilopascal(101.325)
	seaLevelKelvin   = 288.15
	lapseRate        = 0.0065    // K/m, temperature lost with height
	earthRadius      = 6356766.0 // m, the effective one of the standard
	// exponent is g0·M/(R*·L), with g0 = 9.80665 m/s², M = 28.9644 kg/kmol and
	// the standard's own R* = 8314.32 J/(kmol·K).
	exponent = 9.80665 * 28.9644 / (8314.32 * lapseRate)
)

// The altitudes for which the atmosphere is given here: from below the lowest
// dry land to the top of the standard's lowest layer.
const (
	LowestAltitude  sensors.Metre = -500
	HighestAltitude sensors.Metre = 11000
)

// StandardPressure gives the pressure of the US Standard Atmosphere 1976 at a
// geometric altitude of -500 to 11000 m above mean sea level. The altitude is
// first turned into a geopotential one, as the standard does. It returns an
// error outside that range and for what is no number.
func StandardPressure(altitude sensors.Metre) (sensors.Kilopascal, error) {
	if !(altitude >= LowestAltitude && altitude <= HighestAltitude) {
		return 0, fmt.Errorf("boiling: an altitude of %g m is outside the standard atmosphere used here: give metres above sea level from %g to %g",
			float64(altitude), float64(LowestAltitude), float64(HighestAltitude))
	}
	return pressureAtGeopotential(geopotential(altitude)), nil
}

// geopotential turns a geometric altitude into a geopotential one: the height
// that would take the same work if gravity did not weaken on the way up.
func geopotential(altitude sensors.Metre) float64 {
	z := float64(altitude)
	return earthRadius * z / (earthRadius + z)
}

// pressureAtGeopotential is the barometric formula of the lowest layer.
func pressureAtGeopotential(h float64) sensors.Kilopascal {
	return seaLevelPressure * sensors.Kilopascal(math.Pow(1-lapseRate*h/seaLevelKelvin, exponent))
}
