package notify

import (
	"math"
	"math/cmplx"
	"time"
)

// What a listener would find in samples, measured without knowing how they were
// made.

// stretch is a time of sound and the time of quiet after it.
type stretch struct{ on, off time.Duration }

// stretches finds sound and quiet by the envelope: the greatest sample within
// 4 ms, against a tenth of the greatest of all. Quiet at the start is dropped.
func stretches(samples []int16, rate int) []stretch {
	window := rate / 250
	peak := peakOf(samples)
	var found []stretch
	for i := 0; i < len(samples); i += window {
		part := samples[i:min(i+window, len(samples))]
		length := time.Duration(len(part)) * time.Second / time.Duration(rate)
		loud := peakOf(part) > peak/10
		switch {
		case loud && (len(found) == 0 || found[len(found)-1].off > 0):
			found = append(found, stretch{on: length})
		case loud:
			found[len(found)-1].on += length
		case len(found) > 0:
			found[len(found)-1].off += length
		}
	}
	return found
}

func lengthOf(samples []int16) time.Duration {
	return time.Duration(len(samples)) * time.Second / sampleRate
}

func peakOf(samples []int16) int {
	peak := 0
	for _, s := range samples {
		peak = max(peak, int(s), -int(s))
	}
	return peak
}

func rms(samples []int16) float64 {
	sum := 0.0
	for _, s := range samples {
		sum += float64(s) * float64(s)
	}
	return math.Sqrt(sum / float64(len(samples)))
}

// fft is the plain radix-2 transform; the length must be a power of two.
func fft(x []complex128) []complex128 {
	n := len(x)
	if n == 1 {
		return x
	}
	even, odd := make([]complex128, n/2), make([]complex128, n/2)
	for i := range n / 2 {
		even[i], odd[i] = x[2*i], x[2*i+1]
	}
	even, odd = fft(even), fft(odd)
	out := make([]complex128, n)
	for i := range n / 2 {
		turned := cmplx.Rect(1, -2*math.Pi*float64(i)/float64(n)) * odd[i]
		out[i], out[i+n/2] = even[i]+turned, even[i]-turned
	}
	return out
}

// spectrum gives the strongest frequency and the share of all power that lies
// within low..high. The powers of short blocks, each under a Hann window, are
// added up, so that pulses can't cancel one another.
func spectrum(samples []int16, rate int, low, high float64) (strongest, share float64) {
	const block = 4096
	powers := make([]float64, block/2)
	for i := 0; i+block <= len(samples); i += block {
		x := make([]complex128, block)
		for j, s := range samples[i : i+block] {
			x[j] = complex(float64(s)*(1-math.Cos(2*math.Pi*float64(j)/block))/2, 0)
		}
		for j, c := range fft(x)[:block/2] {
			powers[j] += real(c)*real(c) + imag(c)*imag(c)
		}
	}
	var most, inside, all float64
	for j, p := range powers {
		hertz := float64(j) * float64(rate) / block
		all += p
		if hertz >= low && hertz <= high {
			inside += p
		}
		if p > most {
			most, strongest = p, hertz
		}
	}
	return strongest, inside / all
}

// standardPattern is a fire or carbon-monoxide pattern as published: pulses
// equal pulses, then a pause that is one of several.
type standardPattern struct {
	on, off time.Duration
	pulses  int
	pauses  []time.Duration
}

// heardIn says whether the pattern occurs anywhere in what was heard, with
// every time within the tolerance (0.10 is ten per cent) and slack besides for
// the measuring.
func (p standardPattern) heardIn(heard []stretch, tolerance float64) bool {
	const slack = 8 * time.Millisecond
	near := func(got, want time.Duration) bool {
		return (got - want).Abs() <= time.Duration(tolerance*float64(want))+slack
	}
	for first := 0; first+p.pulses <= len(heard); first++ {
		group := heard[first : first+p.pulses]
		fits := true
		for i, s := range group {
			fits = fits && near(s.on, p.on)
			if i < p.pulses-1 {
				fits = fits && near(s.off, p.off)
			}
		}
		for _, pause := range p.pauses {
			if fits && near(group[p.pulses-1].off, pause) {
				return true
			}
		}
	}
	return false
}

// samples makes the pattern itself, each time stretched by the factor, twice.
func (p standardPattern) samples(rate int, factor float64) []int16 {
	var out []int16
	tone := func(d time.Duration, amplitude float64) {
		n := int(d.Seconds() * factor * float64(rate))
		for i := range n {
			out = append(out, int16(amplitude*math.Sin(2*math.Pi*3000*float64(i)/float64(rate))))
		}
	}
	for range 2 {
		for i := range p.pulses {
			tone(p.on, 20000)
			if i < p.pulses-1 {
				tone(p.off, 0)
			}
		}
		tone(p.pauses[0], 0)
	}
	return out
}
