package simbench

import (
	"math"
	"math/rand/v2"
)

// drift is a wandering number with a standard deviation and a memory: an
// Ornstein–Uhlenbeck process, stepped exactly, so that its spread does not
// depend on the length of a step.
type drift struct {
	value         float64
	keep, scatter float64
}

// newDrift makes a drift of the given standard deviation that forgets itself
// over memory seconds, for steps of dt seconds.
func newDrift(deviation, memory, dt float64) drift {
	keep := math.Exp(-dt / memory)
	return drift{keep: keep, scatter: deviation * math.Sqrt(1-keep*keep)}
}

func (d *drift) step(r *rand.Rand) float64 {
	d.value = d.value*d.keep + d.scatter*r.NormFloat64()
	return d.value
}

// mix scrambles 64 bits (the finaliser of the SplitMix64 generator), so that a
// seed and a few counters give numbers that look unrelated.
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9
	x = (x ^ (x >> 27)) * 0x94d049bb133111eb
	return x ^ (x >> 31)
}

// chance is a number in [0, 1) fixed by the seed and two counters. A sample
// noise made so depends on when a sample is taken and on nothing else: not on
// how often, nor in which order, somebody looked.
func chance(seed, stream, count uint64) float64 {
	return float64(mix(mix(mix(seed)^stream)^count)>>11) / (1 << 53)
}

// scatter is a number of mean 0 and standard deviation 1, never beyond ±2.5,
// fixed like chance: the sum of four even chances.
func scatter(seed, stream, count uint64) float64 {
	sum := 0.0
	for i := range uint64(4) {
		sum += chance(seed, stream, count*4+i) - 0.5
	}
	return sum * math.Sqrt(3) * 0.72
}
