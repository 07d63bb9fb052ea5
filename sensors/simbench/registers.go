package simbench

import (
	"math"
	"time"
)

// transmitterTables is what the Pt100 transmitter holds, unit 1: holding
// registers 0–1 the temperature in °C as a float, high word first; 2 the
// resistance in tenths of an ohm by the linear part of the Pt100 curve. An open
// probe shows as a float that is no number.
func transmitterTables(seed uint64, v *view, at time.Duration) tables {
	spec := probeSpecs()[probeTwin]
	celsius := stepped(sample(seed, probeTwin, spec, v, at), 0.01)
	bits := math.Float32bits(float32(math.Min(celsius, spec.top)))
	ohms := uint16(10 * (100 + 0.39083*celsius))
	if !v.probes[probeTwin].in {
		bits, ohms = math.Float32bits(float32(math.NaN())), math.MaxUint16
	}
	return tables{holding: []uint16{uint16(bits >> 16), uint16(bits), ohms}}
}

// The steps in which the fume head states its cells, in ppm.
const (
	h2sStep = 0.01
	so2Step = 0.01
	nh3Step = 0.1
)

// fumeHeadTables is what the fume head holds, unit 17: input registers 0 to 2
// the cells as signed numbers, H2S and SO2 in hundredths of a ppm and NH3 in
// tenths; 3 is 1 for the two minutes it takes to warm up; discrete input 0 the
// hood's airflow contact, closed while air flows.
func fumeHeadTables(_ uint64, v *view, _ time.Duration) tables {
	warming := uint16(0)
	if v.powered < 120 {
		warming = 1
	}
	return tables{
		registers: []uint16{
			inSteps(v.ppm[gasH2S], h2sStep), inSteps(v.ppm[gasSO2], so2Step), inSteps(v.ppm[gasNH3], nh3Step), warming,
		},
		inputs: []bool{v.airflow},
	}
}

// inSteps puts a level into a signed register, in the steps of its cell.
func inSteps(ppm, step float64) uint16 {
	const most = math.MaxInt16
	return uint16(int16(math.Max(-most, math.Min(most, math.Round(ppm/step)))))
}
