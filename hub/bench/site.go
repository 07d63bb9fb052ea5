package bench

import (
	"fmt"
	"strings"

	"simmerline/rules/boiling"
	"simmerline/sensors"
)

// Site is where the bench stands, as far as boiling goes.
type Site struct {
	// Boiling is the local boiling point of clean water.
	Boiling sensors.Celsius
	// From says in words where Boiling comes from: "altitude 1609 m".
	From string
}

// lowestHome is the air pressure (kPa) below which nobody lives: some 5,500 m up.
const lowestHome sensors.Kilopascal = 50

// readSite works out the local boiling point. Where it can't, the site is bad,
// and a boiling point of 100 °C stands in for the checks that need none.
func (d *draft) readSite(parent *section) {
	d.site = Site{Boiling: 100, From: "unknown"}
	d.siteBad = true
	d.siteAt = parent.placeOf("site")
	n := parent.take("site")
	if n == nil {
		parent.missing("site", "{altitude: 1609 m}, with the height of your bench above the sea; the boiling point depends on it")
		return
	}
	s, ok := d.c.section(n, "site", "site: {altitude: 1609 m}")
	altitude, hasAltitude := s.quantity("altitude", height)
	station, hasStation := s.quantity("station_pressure", pressure)
	seaLevel, hasSeaLevel := s.quantity("sea_level_pressure", pressure)
	s.done()
	read := hasAltitude || hasStation || hasSeaLevel
	switch {
	case s.has("altitude") != hasAltitude, s.has("station_pressure") != hasStation, s.has("sea_level_pressure") != hasSeaLevel:
		// Reported already.
	case ok && !read:
		d.c.fault(s.at, "write altitude: and the height above the sea, as altitude: 1609 m", "site says nothing of the altitude or the pressure")
	case read:
		d.boil(s, sensors.Metre(altitude), sensors.Kilopascal(station), sensors.Kilopascal(seaLevel))
	}
}

// boil finds the boiling point from what the site section holds.
func (d *draft) boil(s *section, altitude sensors.Metre, station, seaLevel sensors.Kilopascal) {
	var err error
	var from string
	var boils sensors.Celsius
	key := "altitude"
	switch {
	case s.has("station_pressure") && s.has("sea_level_pressure"):
		d.c.fault(s.placeOf("sea_level_pressure"), "keep one: station_pressure from a barometer at the bench, or sea_level_pressure from a weather report",
			"site has both a station pressure and a sea-level pressure")
		return
	case s.has("station_pressure"):
		key, from = "station_pressure", fmt.Sprintf("station pressure %s", station)
		if s.has("altitude") && !d.believed(s, station, altitude) {
			return
		}
		if station < lowestHome {
			s.trouble(key, &problem{station.String() + " is less than anybody lives in", "write what a barometer at the bench shows, in kPa or hPa (1 kPa is 10 hPa)"})
			return
		}
		boils, err = boiling.AtStationPressure(station)
	case s.has("sea_level_pressure") && !s.has("altitude"):
		d.c.fault(s.placeOf("sea_level_pressure"), "add altitude: and the height of the bench above the sea",
			"site: a sea-level pressure says nothing of the bench without its altitude")
		return
	case s.has("sea_level_pressure"):
		key, from = "sea_level_pressure", fmt.Sprintf("sea-level pressure %s at %s", seaLevel, altitude)
		boils, err = boiling.AtSeaLevelPressure(seaLevel, altitude)
	default:
		from = fmt.Sprintf("altitude %s", altitude)
		boils, err = boiling.AtAltitude(altitude)
	}
	if err != nil {
		what, mend, _ := strings.Cut(strings.TrimPrefix(err.Error(), "boiling: "), ": ")
		s.trouble(key, &problem{what, orElse(mend, "correct the figure")})
		return
	}
	d.site, d.siteBad, d.hasAltitude = Site{boils, from}, false, s.has("altitude")
	d.setup.Boiling, d.setup.BoilingFrom = boils, from
}

// believed judges a station pressure against the standard atmosphere at the
// altitude given with it.
func (d *draft) believed(s *section, station sensors.Kilopascal, altitude sensors.Metre) bool {
	standard, err := boiling.StandardPressure(altitude)
	if err != nil {
		what, mend, _ := strings.Cut(strings.TrimPrefix(err.Error(), "boiling: "), ": ")
		s.trouble("altitude", &problem{what, orElse(mend, "correct the figure")})
		return false
	}
	if boiling.CheckStationPressure(station, altitude) == nil {
		return true
	}
	s.trouble("station_pressure", &problem{
		fmt.Sprintf("%s can't be the air pressure at %s, where it is near %s: weather reports give the pressure reduced to sea level, and boiling would be taken for too hot", station, altitude, standard),
		"write sea_level_pressure for a weather report's figure, or leave the pressure out"})
	return false
}

func orElse(text, otherwise string) string {
	if text == "" {
		return otherwise
	}
	return text
}
