package simbench

import (
	"math"
	"time"
)

// Device is one instrument at the far end of a wire, as a pure state machine:
// it is told the time, looks at the world as it was then, and starts nothing by
// itself. Times given to it must not run backwards. It is not safe for
// concurrent use.
type Device interface {
	// Receive takes what the hub has sent, arriving now.
	Receive(now time.Duration, sent []byte)
	// Due gives what the device has sent by now and has not given yet. The
	// bytes are only good until the next call.
	Due(now time.Duration) []byte
	// Next tells when the next bytes leave the device; ok is false while it
	// waits to be asked.
	Next() (at time.Duration, ok bool)
}

// lookup gives the world as it was at a story offset.
type lookup func(at time.Duration) view

// sample is one measurement of a probe at a moment: its true answer with the
// scatter of that moment, which is the same however often it is asked for
// within a tenth of a second.
func sample(seed uint64, i int, spec probeSpec, v *view, at time.Duration) float64 {
	count := uint64(at/Step)*probeCount + uint64(i)
	return v.probes[i].celsius + spec.noise*scatter(seed, streamProbe, count)
}

// stepped rounds to the steps an instrument measures in.
func stepped(value, step float64) float64 { return math.Round(value/step) * step }

// newDevice makes the instrument at a port.
func newDevice(port int, seed uint64, look lookup) Device {
	switch port {
	case portWire:
		return newPrinter(port, seed, look, 230*time.Millisecond, bathWireLine)
	case portBoard:
		return newPrinter(port, seed, look, 610*time.Millisecond, benchBoardLine)
	case portTransmitter:
		return newSlave(port, seed, look, 1, transmitterTables)
	default:
		return newSlave(port, seed, look, 17, fumeHeadTables)
	}
}
