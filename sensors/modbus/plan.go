package modbus

import (
	"cmp"
	"slices"

	"simmerline/sensors"
)

// Span is a run of registers or bits read by one request, and the channels
// that lie in it.
type Span struct {
	Unit     byte // as the channels have it
	Function byte
	Address  uint16 // the first, counted from 0
	Count    uint16
	Channels []int // places in the list that was planned, by address
}

// Plan groups channels into as few requests as hold them: those of the same
// unit and function whose registers touch or overlap, up to the protocol's
// limits. Gaps are not bridged, since a device may refuse to read what lies
// between. The spans come by unit, function and address. The channels must have
// been checked by New.
func Plan(channels []sensors.ModbusChannel) []Span {
	order := make([]int, len(channels))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		first, second := channels[a], channels[b]
		return cmp.Or(cmp.Compare(first.Unit, second.Unit), cmp.Compare(first.Function, second.Function),
			cmp.Compare(first.Address, second.Address))
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
	return Span{Unit: c.Unit, Function: c.Function, Address: c.Address, Count: uint16(width(c.Type)), Channels: []int{i}}
}

// take widens the span by a later one, where that needs no gap to be bridged.
func (s *Span) take(next Span) bool {
	end := int(s.Address) + int(s.Count)
	if s.Unit != next.Unit || s.Function != next.Function || int(next.Address) > end {
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
