package modbus

import (
	"slices"

	"simmerline/sensors"
)

// Span is a run of registers or bits read by one request, and the channels
// that lie in it.
type Span struct {
	Function byte
	Address  uint16 // the first, counted from 0
	Count    uint16
	Channels []int // places in the list that was planned, by address
}

// Plan groups channels into as few requests as hold them: those of the same
// function whose registers touch or overlap, up to the protocol's limits.
// Gaps are not bridged, since a device may refuse to read what lies between.
// The channels must have been checked by New.
func Plan(channels []sensors.ModbusChannel) []Span {
	order := make([]int, len(channels))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		first, second := channels[a], channels[b]
		if first.Function != second.Function {
			return int(first.Function) - int(second.Function)
		}
		return int(first.Address) - int(second.Address)
	})
	var spans []Span
	for _, i := range order {
		alone := single(channels, i)
		if len(spans) > 0 && spans[len(spans)-1].take(alone) {
			continue
		}
		spans = append(spans, alone)
	}
	return spans
}

// single is the span of one channel.
func single(channels []sensors.ModbusChannel, i int) Span {
	c := channels[i]
	return Span{Function: c.Function, Address: c.Address, Count: uint16(width(c.Type)), Channels: []int{i}}
}

// take widens the span by a later one, where that needs no gap to be bridged.
func (s *Span) take(next Span) bool {
	end := int(s.Address) + int(s.Count)
	if s.Function != next.Function || int(next.Address) > end {
		return false
	}
	most := MaxRegisters
	if s.Function <= lastBitFunction {
		most = MaxBits
	}
	count := max(end, int(next.Address)+int(next.Count)) - int(s.Address)
	if count > most {
		return false
	}
	s.Count = uint16(count)
	s.Channels = append(s.Channels, next.Channels...)
	return true
}
