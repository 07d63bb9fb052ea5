package sensors

import (
	"fmt"
	"math"
)

// Celsius is a temperature in degrees Celsius.
type Celsius float64

// Fahrenheit returns the temperature in degrees Fahrenheit, for display only:
// everything inside works in °C.
func (c Celsius) Fahrenheit() float64 { return float64(c)*9/5 + 32 }

// String prints the temperature to a tenth, as "68.4 °C".
func (c Celsius) String() string { return fmt.Sprintf("%.1f °C", float64(c)) }

// PPM is a gas concentration in parts per million by volume.
type PPM float64

// String prints the concentration with as many decimals as its size deserves,
// as "0.42 ppm", "4.2 ppm" or "42 ppm".
func (p PPM) String() string {
	switch size := math.Abs(float64(p)); {
	case size < 1:
		return fmt.Sprintf("%.2f ppm", float64(p))
	case size < 20:
		return fmt.Sprintf("%.1f ppm", float64(p))
	default:
		return fmt.Sprintf("%.0f ppm", float64(p))
	}
}

// Kilopascal is an absolute pressure in kilopascals.
type Kilopascal float64

// String prints the pressure to a tenth, as "83.4 kPa".
func (p Kilopascal) String() string { return fmt.Sprintf("%.1f kPa", float64(p)) }

// Metre is a height above mean sea level in metres.
type Metre float64

// String prints the height to a metre, as "1609 m".
func (m Metre) String() string { return fmt.Sprintf("%.0f m", float64(m)) }

// Quantity says what a number measures, and so its unit.
type Quantity uint8

// The quantities. The zero value is no quantity at all.
const (
	QuantityUnspecified Quantity = iota
	Temperature                  // °C
	GasLevel                     // ppm by volume
	Contact                      // 1 closed, 0 open
	Pressure                     // kPa, absolute
)

// String gives the word a bench file uses for the quantity.
func (q Quantity) String() string {
	switch q {
	case Temperature:
		return "temperature"
	case GasLevel:
		return "gas"
	case Contact:
		return "contact"
	case Pressure:
		return "pressure"
	default:
		return "unspecified"
	}
}

// Unit gives the unit a number of this quantity is kept in.
func (q Quantity) Unit() string {
	switch q {
	case Temperature:
		return "°C"
	case GasLevel:
		return "ppm"
	case Pressure:
		return "kPa"
	default:
		return ""
	}
}

// Gas names what a gas channel answers to. A cell may answer to other gases
// too, so a level is always "as" this gas.
type Gas uint8

// The gases that have words and limits of their own.
const (
	GasUnspecified Gas = iota
	HydrogenSulfide
	SulfurDioxide
	Ammonia
	CarbonMonoxide
	OtherGas
)

// Gases lists every named gas in the order screens show them.
var Gases = []Gas{HydrogenSulfide, SulfurDioxide, Ammonia, CarbonMonoxide, OtherGas}

// String gives the short name used in bench files and commands: "h2s".
func (g Gas) String() string {
	switch g {
	case HydrogenSulfide:
		return "h2s"
	case SulfurDioxide:
		return "so2"
	case Ammonia:
		return "nh3"
	case CarbonMonoxide:
		return "co"
	case OtherGas:
		return "other"
	default:
		return "unspecified"
	}
}

// Formula gives the chemical formula in plain letters: "H2S".
func (g Gas) Formula() string {
	switch g {
	case HydrogenSulfide:
		return "H2S"
	case SulfurDioxide:
		return "SO2"
	case Ammonia:
		return "NH3"
	case CarbonMonoxide:
		return "CO"
	default:
		return "gas"
	}
}

// Title gives the name a person says: "hydrogen sulfide".
func (g Gas) Title() string {
	switch g {
	case HydrogenSulfide:
		return "hydrogen sulfide"
	case SulfurDioxide:
		return "sulfur dioxide"
	case Ammonia:
		return "ammonia"
	case CarbonMonoxide:
		return "carbon monoxide"
	default:
		return "gas"
	}
}

// ParseGas reads the short name of a gas; ok is false for any other word.
func ParseGas(word string) (gas Gas, ok bool) {
	for _, g := range Gases {
		if g.String() == word {
			return g, true
		}
	}
	return GasUnspecified, false
}

// Value is a finite number of a known quantity. The zero Value holds nothing:
// it is what a bad reading carries, so that no number is ever invented.
type Value struct {
	quantity Quantity
	number   float64
}

// NewValue makes a value of quantity q from a number in q's unit. It refuses
// what is not a finite number, and a quantity that is not known.
func NewValue(q Quantity, number float64) (Value, error) {
	if q == QuantityUnspecified || q > Pressure {
		return Value{}, fmt.Errorf("sensors: a value needs a quantity, not %d", q)
	}
	if math.IsNaN(number) || math.IsInf(number, 0) {
		return Value{}, fmt.Errorf("sensors: %v is not a finite %s", number, q)
	}
	return Value{quantity: q, number: number}, nil
}

// MustValue is NewValue for numbers known to be finite, as constants are; it
// panics otherwise.
func MustValue(q Quantity, number float64) Value {
	v, err := NewValue(q, number)
	if err != nil {
		panic(err)
	}
	return v
}

// Known says whether there is a number at all.
func (v Value) Known() bool { return v.quantity != QuantityUnspecified }

// Quantity tells what the value measures.
func (v Value) Quantity() Quantity { return v.quantity }

// Number gives the number in the unit of its quantity; 0 when nothing is known.
func (v Value) Number() float64 { return v.number }

// Celsius gives the temperature; ok is false when the value is none.
func (v Value) Celsius() (c Celsius, ok bool) {
	return Celsius(v.number), v.quantity == Temperature
}

// PPM gives the gas concentration; ok is false when the value is none.
func (v Value) PPM() (p PPM, ok bool) { return PPM(v.number), v.quantity == GasLevel }

// Closed tells whether a contact is closed; ok is false when the value is none.
func (v Value) Closed() (closed, ok bool) { return v.number != 0, v.quantity == Contact }

// String prints the value with its unit, or "no value".
func (v Value) String() string {
	switch v.quantity {
	case Temperature:
		return Celsius(v.number).String()
	case GasLevel:
		return PPM(v.number).String()
	case Contact:
		if v.number != 0 {
			return "closed"
		}
		return "open"
	case Pressure:
		return Kilopascal(v.number).String()
	default:
		return "no value"
	}
}
