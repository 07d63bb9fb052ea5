package boiling

import (
	"fmt"
	"math"

	"simmerline/sensors"
)

// What the air does: a station pressure lies between that of the standard
// atmosphere at 11 km and the most ever met below sea level; reduced to sea
// level, barometers have stood between 87 and 108.5 kPa.
const (
	lowestStation   sensors.Kilopascal = 22
	highestStation  sensors.Kilopascal = 116
	lowestSeaLevel  sensors.Kilopascal = 85
	highestSeaLevel sensors.Kilopascal = 110
)

// MostOffStandard is how far a station pressure may lie from the standard
// atmosphere at its altitude and still be believed, 5 kPa: the weather moves
// it by less.
const MostOffStandard sensors.Kilopascal = 5

// AtAltitude gives the boiling point of water at a geometric altitude of -500
// to 11000 m, in the pressure of the standard atmosphere. Weather moves it by
// about ±1 K.
func AtAltitude(altitude sensors.Metre) (sensors.Celsius, error) {
	p, err := StandardPressure(altitude)
	if err != nil {
		return 0, err
	}
	return SaturationTemperature(p)
}

// AtStationPressure gives the boiling point of water under the pressure that a
// barometer shows at the bench, not reduced to sea level. It refuses what no
// open air ever has: below 22 or above 116 kPa.
func AtStationPressure(station sensors.Kilopascal) (sensors.Celsius, error) {
	if !(station >= lowestStation && station <= highestStation) {
		return 0, fmt.Errorf("boiling: %g kPa is no pressure of open air: give the station pressure in kPa, %g to %g (1 kPa is 10 hPa or 10 mbar)",
			float64(station), float64(lowestStation), float64(highestStation))
	}
	return SaturationTemperature(station)
}

// AtSeaLevelPressure gives the boiling point of water at an altitude of -500
// to 11000 m under the sea-level pressure of a weather report, 85 to 110 kPa.
func AtSeaLevelPressure(seaLevel sensors.Kilopascal, altitude sensors.Metre) (sensors.Celsius, error) {
	station, err := StationPressure(seaLevel, altitude)
	if err != nil {
		return 0, err
	}
	return SaturationTemperature(station)
}

// StationPressure undoes a weather report's reduction to sea level. The report
// has multiplied the station's pressure by what a column of air down to sea
// level would add; with the column of the standard atmosphere,
//
//	station = seaLevel × standard(altitude) / standard(0).
//
// A weather service uses the temperature of the day instead of the standard
// one: with 10 K between the two this is 0.6 kPa off at 1600 m, or 0.2 K of
// boiling point.
func StationPressure(seaLevel sensors.Kilopascal, altitude sensors.Metre) (sensors.Kilopascal, error) {
	if !(seaLevel >= lowestSeaLevel && seaLevel <= highestSeaLevel) {
		return 0, fmt.Errorf("boiling: %g kPa is no pressure at sea level: give it in kPa, %g to %g (1 kPa is 10 hPa or 10 mbar); the pressure at the bench itself is a station pressure",
			float64(seaLevel), float64(lowestSeaLevel), float64(highestSeaLevel))
	}
	standard, err := StandardPressure(altitude)
	if err != nil {
		return 0, err
	}
	return seaLevel * standard / seaLevelPressure, nil
}

// CheckStationPressure judges whether a station pressure can be true at an
// altitude: it returns an error when it is more than MostOffStandard from the
// standard atmosphere there, as the sea-level pressure of a weather report
// would be. A boiling point too high is the danger in that mistake: alarms
// short of the boil would come too late.
func CheckStationPressure(station sensors.Kilopascal, altitude sensors.Metre) error {
	standard, err := StandardPressure(altitude)
	if err != nil {
		return err
	}
	off := float64(station - standard)
	if math.Abs(off) <= float64(MostOffStandard) {
		return nil
	}
	return fmt.Errorf("boiling: a station pressure of %.1f kPa can't be right at %.0f m, where the standard atmosphere has %.1f kPa: "+
		"weather reports give the pressure reduced to sea level; give that as sea-level pressure with the altitude, or read a barometer at the bench",
		float64(station), float64(altitude), float64(standard))
}
