package simbench

import "math"

// saturationPressure is the vapour pressure of water in kPa at a temperature in
// °C: the Antoine equation with the usual constants for 1–100 °C. It stays
// within 0.5 % of the steam tables from 50 to 95 °C, which is ample for an
// evaporation loss; the boiling point is never taken from it, but given.
func saturationPressure(celsius float64) float64 {
	const (
		a, b, c = 8.07131, 1730.63, 233.426 // for millimetres of mercury
		kpaEach = 101.325 / 760
	)
	return kpaEach * math.Exp(math.Ln10*(a-b/(c+celsius)))
}

// evaporationFlux is the heat in W/m² that open water loses by evaporating
// into room air of the given vapour pressure, under air moving at speed m/s.
// Carrier's pool formula: W = A (pw − pa) (0.089 + 0.0782 V) / Y, with
// pressures in kPa, the latent heat Y in kJ/kg and W in kg/s.
func evaporationFlux(water, roomVapour, speed float64) float64 {
	excess := saturationPressure(water) - roomVapour
	if excess <= 0 {
		return 0 // condensation on a cold bath is too small to matter here
	}
	return 1000 * excess * (0.089 + 0.0782*speed)
}
