// Package convert turns raw signals into quantities and back: the voltage of a
// thermocouple with its reference junction (ITS-90), the resistance of a
// platinum thermometer (IEC 60751), and a gas level in ppm into mg/m³.
//
// Every conversion works over the range its source publishes and returns an
// error outside it that says what is wrong and what to look for; no number is
// stretched beyond its source, and what is not a finite number is refused.
//
// Sources:
//
//   - NIST Monograph 175 (1993) and NIST SRD 60, ITS-90 thermocouple functions,
//     the same as in IEC 60584-1;
//   - IEC 60751:2008, industrial platinum resistance thermometers;
//   - the SI's molar gas constant (CODATA 2018) and IUPAC atomic weights.
//
// The package is pure: it keeps no state, reads no clock, touches no file. It
// imports sensors (for the units) and nothing else of this module.
package convert
