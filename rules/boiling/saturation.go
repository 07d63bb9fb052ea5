package boiling

import (
	"fmt"
	"math"

	"simmerline/sensors"
)

// The coefficients of IAPWS-IF97 region 4 (IAPWS R7-97(2012), Table 34), and
// what turns its kelvin and megapascals into our units.
const (
	n1  = 0.11670521452767e4
	n2  = -0.72421316703206e6
	n3  = -0.17073846940092e2
	n4  = 0.12020824702470e5
	n5  = -0.32325550322333e7
	n6  = 0.14915108613530e2
	n7  = -0.48232657361591e4
	n8  = 0.40511340542057e6
	n9  = -0.23855557567849e0
	n10 = 0.65017534844798e3

	kelvinAtZero     = 273.15
	kilopascalPerMPa = 1000
)

// The ends of the saturation line: from 0 °C to the critical point
// (647.096 K, 22.064 MPa), beyond which nothing boils.
const (
	LowestTemperature  sensors.Celsius    = 0
	HighestTemperature sensors.Celsius    = 647.096 - kelvinAtZero
	LowestPressure     sensors.Kilopascal = 0.611213
	HighestPressure    sensors.Kilopascal = 22064
)

// SaturationPressure gives the absolute pressure at which water boils at the
// given temperature, 0 to 373.946 °C (IAPWS R7-97(2012), equation 30). It
// returns an error outside that range and for what is no number.
func SaturationPressure(t sensors.Celsius) (sensors.Kilopascal, error) {
	if !(t >= LowestTemperature && t <= HighestTemperature) {
		return 0, fmt.Errorf("boiling: %g °C is outside the saturation line of water: give a temperature from %g to %g °C",
			float64(t), float64(LowestTemperature), float64(HighestTemperature))
	}
	kelvin := float64(t) + kelvinAtZero
	theta := kelvin + n9/(kelvin-n10)
	a := theta*theta + n1*theta + n2
	b := n3*theta*theta + n4*theta + n5
	c := n6*theta*theta + n7*theta + n8
	root := 2 * c / (-b + math.Sqrt(b*b-4*a*c))
	return sensors.Kilopascal(root * root * root * root * kilopascalPerMPa), nil
}

// SaturationTemperature gives the temperature at which water boils under the
// given absolute pressure, 0.611213 to 22064 kPa (IAPWS R7-97(2012), equation
// 31). It returns an error outside that range and for what is no number.
func SaturationTemperature(p sensors.Kilopascal) (sensors.Celsius, error) {
	if !(p >= LowestPressure && p <= HighestPressure) {
		return 0, fmt.Errorf("boiling: %g kPa is outside the saturation line of water: give an absolute pressure from %g to %g kPa",
			float64(p), float64(LowestPressure), float64(HighestPressure))
	}
	beta := math.Sqrt(math.Sqrt(float64(p) / kilopascalPerMPa))
	e := beta*beta + n3*beta + n6
	f := n1*beta*beta + n4*beta + n7
	g := n2*beta*beta + n5*beta + n8
	d := 2 * g / (-f - math.Sqrt(f*f-4*e*g))
	sum := n10 + d
	kelvin := (sum - math.Sqrt(sum*sum-4*(n9+n10*d))) / 2
	return sensors.Celsius(kelvin - kelvinAtZero), nil
}
