package sensorstest

import (
	"bytes"
	"math/rand/v2"
	"slices"
)

// source is the generator of one seed: the same damage for the same seed.
func source(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0x5117)) }

// FlipBits flips n different bits, or all where there are fewer.
func FlipBits(seed uint64, p []byte, n int) []byte {
	damaged := bytes.Clone(p)
	for _, bit := range source(seed).Perm(8 * len(p))[:min(n, 8*len(p))] {
		damaged[bit/8] ^= 1 << (bit % 8)
	}
	return damaged
}

// Drop loses n bytes, or all where there are fewer.
func Drop(seed uint64, p []byte, n int) []byte {
	places := source(seed).Perm(len(p))[:min(n, len(p))]
	damaged := make([]byte, 0, len(p))
	for i, b := range p {
		if !slices.Contains(places, i) {
			damaged = append(damaged, b)
		}
	}
	return damaged
}

// Duplicate doubles n bytes, or all where there are fewer.
func Duplicate(seed uint64, p []byte, n int) []byte {
	places := source(seed).Perm(len(p))[:min(n, len(p))]
	damaged := make([]byte, 0, len(p)+n)
	for i, b := range p {
		damaged = append(damaged, b)
		if slices.Contains(places, i) {
			damaged = append(damaged, b)
		}
	}
	return damaged
}

// Echo is what a half-duplex adapter gives: the request, then its reply.
func Echo(request, reply []byte) []byte { return slices.Concat(request, reply) }

// Noise is n random bytes.
func Noise(seed uint64, n int) []byte {
	from, p := source(seed), make([]byte, n)
	for i := range p {
		p[i] = byte(from.Uint32())
	}
	return p
}
