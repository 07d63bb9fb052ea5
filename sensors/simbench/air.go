package simbench

import (
	"math"
	"math/rand/v2"
)

// air is the air that the fume head hangs in, with the fan that changes it.
type air struct {
	fanOn  bool
	fan    float64 // share of full speed
	proved bool    // the airflow contact
	ppm    [gasCount]float64
	plume  drift
	cells  [gasCount]cell
}

// cell is one electrochemical cell of the head.
type cell struct {
	cellSpec
	shown float64 // ppm, after its lag
	noise drift
}

func newAir() air {
	a := air{plume: newDrift(plumeWander, plumeMemory, stepSeconds)}
	for i, spec := range cellSpecs() {
		a.cells[i] = cell{cellSpec: spec, noise: newDrift(spec.noise, 4, stepSeconds)}
	}
	return a
}

func (a *air) stepFan(power bool) {
	aim := 0.0
	if a.fanOn && power {
		aim = 1
	}
	a.fan += (aim - a.fan) * stepSeconds / fanRunTime
	a.proved = a.fan > airflowLimit
}

// step mixes what the baths give off, in ml per minute, into the air and lets
// the cells follow.
func (a *air) step(emitted [gasCount]float64, r *rand.Rand) {
	const dt = stepSeconds / 60 // minutes
	escaping := 1 - hoodCapture*a.fan
	exchange := zoneStill + zoneHood*a.fan
	for i := range a.ppm {
		// One ml of gas in one m³ of air is one ppm by volume.
		a.ppm[i] += (emitted[i]*escaping - exchange*a.ppm[i]) * dt / zoneVolume
	}
	wander := 1 + a.plume.step(r)
	met := a.ppm
	met[gasH2S] += h2sCellFromSO2 * a.ppm[gasSO2]
	met[gasNH3] += nh3CellFromH2S * a.ppm[gasH2S]
	for i := range a.cells {
		c := &a.cells[i]
		c.shown += (met[i]*wander - c.shown) * stepSeconds / (cellT90 / math.Ln10)
		c.noise.step(r)
	}
}

// reading is what the head makes of a cell, in ppm: with noise, and with the
// error of a cell that was powered up the given number of seconds ago. Beyond
// its range a cell goes on for a fifth, and there its electronics end.
func (c *cell) reading(powered float64) float64 {
	ppm := c.shown + c.noise.value + c.warmUp*math.Exp(-powered/warmUpMemory)
	return min(ppm, 1.2*c.top)
}
