// Package boiling knows when water boils: the saturation line of IAPWS-IF97
// (region 4) in both directions, the US Standard Atmosphere 1976 up to 11 km,
// and the boiling point at a site from its altitude, its station pressure, or
// a weather report's sea-level pressure with its altitude.
//
// A bath of salts boils a little above clean water, so the boiling point given
// here is the cautious one.
//
// Sources:
//
//   - IAPWS R7-97(2012), Revised Release on the IAPWS Industrial Formulation
//     1997 for the Thermodynamic Properties of Water and Steam, section 8;
//   - U.S. Standard Atmosphere, 1976 (NOAA-S/T 76-1562), lowest layer.
//
// The package is pure: numbers in, numbers or an error out. It imports sensors
// (for the units) and nothing else of this module.
package boiling
