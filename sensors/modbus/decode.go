package modbus

import (
	"encoding/binary"
	"math"

	"simmerline/sensors"
)

// width is how many registers (or bits) a number of this type takes.
func width(t sensors.RegisterType) int {
	switch t {
	case sensors.RegisterUint32, sensors.RegisterInt32, sensors.RegisterFloat32:
		return 2
	default:
		return 1
	}
}

// Number takes one number out of the data of a reply. At counts registers from
// the start of the data, or bits where the type is RegisterBit; ok is false
// when the data ends before the number does. A float that holds no number
// comes out as NaN or infinity, for Channel.Convert to refuse.
func Number(data []byte, at int, t sensors.RegisterType, lowWordFirst bool) (number float64, ok bool) {
	if t == sensors.RegisterBit {
		if at < 0 || at >= 8*len(data) {
			return 0, false
		}
		// V1.1b3 section 6.1: the first bit is the lowest of the first byte.
		return float64(data[at/8] >> (at % 8) & 1), true
	}
	if at < 0 || 2*(at+width(t)) > len(data) {
		return 0, false
	}
	words := data[2*at:]
	if width(t) == 1 {
		word := binary.BigEndian.Uint16(words)
		if t == sensors.RegisterInt16 {
			return float64(int16(word)), true
		}
		return float64(word), true
	}
	high, low := uint32(binary.BigEndian.Uint16(words)), uint32(binary.BigEndian.Uint16(words[2:]))
	if lowWordFirst {
		high, low = low, high
	}
	whole := high<<16 | low
	switch t {
	case sensors.RegisterInt32:
		return float64(int32(whole)), true
	case sensors.RegisterFloat32:
		return float64(math.Float32frombits(whole)), true
	default:
		return float64(whole), true
	}
}
