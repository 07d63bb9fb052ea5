package notify

import (
	"math"
	"time"
)

// Level is what the sounder should do, from the least to the most urgent.
type Level uint8

// The levels. Warning and Danger repeat until they are changed; Notice and Test
// are played once.
const (
	Silence Level = iota
	Notice        // a soft tone: something expected has come, as a bath in range
	Test          // both alarm voices at their real loudness, to be judged by ear
	Warning
	Danger
)

// Levels lists every level, for tables and tests.
var Levels = []Level{Silence, Notice, Test, Warning, Danger}

// String gives the level in one word.
func (l Level) String() string {
	switch l {
	case Silence:
		return "silence"
	case Notice:
		return "notice"
	case Test:
		return "test"
	case Warning:
		return "warning"
	case Danger:
		return "danger"
	default:
		return "unknown"
	}
}

// once says whether the level is played once and then over.
func (l Level) once() bool { return l == Notice || l == Test }

// Tone is one component of a sound. Amplitude is a fraction of full scale; the
// amplitudes of a voice add up to at most 0.9, so that nothing clips.
type Tone struct {
	Hertz     float64
	Amplitude float64
}

// Pulse is a sound and the pause after it. Attack and Decay, both within On,
// are how long it takes to swell and to fade, so that nothing clicks.
type Pulse struct {
	On, Off       time.Duration
	Attack, Decay time.Duration
	Voice         []Tone
}

// Pattern is one cycle of pulses.
type Pattern []Pulse

// Cycle is how long one cycle lasts.
func (p Pattern) Cycle() time.Duration {
	var sum time.Duration
	for _, pulse := range p {
		sum += pulse.On + pulse.Off
	}
	return sum
}

// dangerVoice and warningVoice keep every component within the 500–2,500 Hz of
// ISO 7731. The two strongest of danger are a tritone apart, which sounds rough
// and pressing; those of warning a fifth apart, lower and calmer.
func dangerVoice() []Tone {
	return []Tone{{Hertz: 1160, Amplitude: 0.44}, {Hertz: 820, Amplitude: 0.30}, {Hertz: 1640, Amplitude: 0.15}}
}

func warningVoice() []Tone {
	return []Tone{{Hertz: 640, Amplitude: 0.36}, {Hertz: 960, Amplitude: 0.18}}
}

// PatternOf gives the pattern of a level; ok is false for Silence and for what
// is no level.
//
// Danger gallops, long-short-short, 2.7 pulses a second; warning limps,
// long-short and a rest, about one pulse a second: both within the 0.5–4 Hz of
// ISO 7731 from each pulse to the next. Neither has the equal half-second
// pulses of the fire pattern (ISO 8201, temporal-three) nor the equal tenths of
// a second of the carbon-monoxide pattern (NFPA 72, temporal-four).
func PatternOf(level Level) (pattern Pattern, ok bool) {
	const ms = time.Millisecond
	switch level {
	case Danger:
		pulse := Pulse{Attack: 8 * ms, Decay: 14 * ms, Voice: dangerVoice()}
		long, short, last := pulse, pulse, pulse
		long.On, long.Off = 340*ms, 120*ms
		short.On, short.Off = 140*ms, 140*ms
		last.On, last.Off = 140*ms, 220*ms
		return Pattern{long, short, last}, true
	case Warning:
		pulse := Pulse{Attack: 15 * ms, Decay: 40 * ms, Voice: warningVoice()}
		long, short := pulse, pulse
		long.On, long.Off = 360*ms, 300*ms
		short.On, short.Off = 180*ms, 1200*ms
		return Pattern{long, short}, true
	case Notice:
		return Pattern{{
			On: 900 * ms, Off: 100 * ms, Attack: 40 * ms, Decay: 760 * ms,
			Voice: []Tone{{Hertz: 700, Amplitude: 0.16}, {Hertz: 1050, Amplitude: 0.05}},
		}}, true
	case Test:
		return Pattern{
			{On: 700 * ms, Off: 300 * ms, Attack: 15 * ms, Decay: 40 * ms, Voice: warningVoice()},
			{On: 700 * ms, Off: 600 * ms, Attack: 8 * ms, Decay: 14 * ms, Voice: dangerVoice()},
		}, true
	default:
		return nil, false
	}
}

// Samples makes one cycle as signed 16-bit samples at rate samples a second.
func (p Pattern) Samples(rate int) []int16 {
	samples := make([]int16, 0, count(p.Cycle(), rate))
	for _, pulse := range p {
		on := count(pulse.On, rate)
		attack, decay := count(pulse.Attack, rate), count(pulse.Decay, rate)
		for i := range on {
			sum := 0.0
			for _, tone := range pulse.Voice {
				sum += tone.Amplitude * math.Sin(2*math.Pi*tone.Hertz*float64(i)/float64(rate))
			}
			gain := swell(i, attack) * swell(on-1-i, decay)
			samples = append(samples, int16(math.Round(sum*gain*math.MaxInt16)))
		}
		samples = append(samples, make([]int16, count(pulse.Off, rate))...)
	}
	return samples
}

// swell rises from 0 to 1 over n samples along half a cosine.
func swell(i, n int) float64 {
	if i >= n {
		return 1
	}
	return (1 - math.Cos(math.Pi*float64(i)/float64(n))) / 2
}

func count(d time.Duration, rate int) int {
	return int(d.Seconds()*float64(rate) + 0.5)
}
