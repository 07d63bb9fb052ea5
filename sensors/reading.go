package sensors

import (
	"math"
	"time"
)

// Reading is one number of one channel, with all that is needed to judge it.
type Reading struct {
	// Channel is the channel's name in the bench file.
	Channel string
	// At is when the last byte of it arrived: the monotonic offset since this
	// run of the hub began. It is never a wall-clock time.
	At time.Duration
	// Value is what was measured. It is the zero Value whenever Quality is bad
	// or unknown.
	Value Value
	// Raw is the number as the device sent it, before scale and offset. It is
	// NaN where the device sent none.
	Raw float64
	// Quality and Reason say how far Value may be trusted, and why not further.
	Quality Quality
	Reason  Reason
	// ReadyAt is when a reading that settles or warms up is expected to be
	// trusted, an offset as At is. It is 0 with every other reason.
	ReadyAt time.Duration
}

// Channel says how the raw numbers of one measured thing become readings.
type Channel struct {
	// Name is unique on the bench: small letters, digits and hyphens.
	Name string
	// Label is what people call it; Name is used where it is empty.
	Label string
	// Quantity and, for a gas level, Gas say what is measured.
	Quantity Quantity
	Gas      Gas
	// Scale and Offset turn the raw number into the quantity's unit:
	// value = raw × Scale + Offset. A Scale of 0 means 1.
	Scale, Offset float64
	// Low and High bound what is credible, in the quantity's unit. For a gas,
	// High is the top of the cell's range, and more than that is over range.
	Low, High float64
	// WarmUp is how long after power-up a cell is not to be trusted.
	WarmUp time.Duration
	// DigitalProbe marks a probe that reports exactly 85.0 °C when it has been
	// powered up but has not measured.
	DigitalProbe bool
}

// Convert makes the reading of a raw number that arrived at the given offset.
// What is not finite, or lies outside the credible range, becomes a bad
// reading that keeps Raw and carries no value.
func (c Channel) Convert(at time.Duration, raw float64) Reading {
	if math.IsNaN(raw) || math.IsInf(raw, 0) {
		return c.Fault(at, raw, ReasonNotANumber)
	}
	scale := c.Scale
	if scale == 0 {
		scale = 1
	}
	value, err := NewValue(c.Quantity, raw*scale+c.Offset)
	if err != nil {
		return c.Fault(at, raw, ReasonNotANumber)
	}
	if c.Quantity == Contact {
		value.number = boolNumber(value.number != 0)
		return Reading{Channel: c.Name, At: at, Value: value, Raw: raw, Quality: QualityGood}
	}
	switch {
	case value.number > c.High && c.Quantity == GasLevel:
		return c.Fault(at, raw, ReasonOverRange)
	case value.number < c.Low && c.Quantity == GasLevel:
		return c.Fault(at, raw, ReasonUnderRange)
	case value.number < c.Low || value.number > c.High:
		return c.Fault(at, raw, ReasonOutOfRange)
	}
	return Reading{Channel: c.Name, At: at, Value: value, Raw: raw, Quality: QualityGood}
}

// Fault makes a bad reading: no value, the raw number kept, and the reason.
func (c Channel) Fault(at time.Duration, raw float64, reason Reason) Reading {
	return Reading{Channel: c.Name, At: at, Raw: raw, Quality: QualityBad, Reason: reason}
}

func boolNumber(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
