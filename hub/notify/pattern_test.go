package notify

import (
	"encoding/binary"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"simmerline/sensors/sensorstest"
)

// reference holds the rows of testdata/reference/audible.csv as topic/item → value.
func reference(t *testing.T) map[string]string {
	t.Helper()
	_, rows := sensorstest.Reference(t, "../../testdata/reference/audible.csv")
	values := make(map[string]string)
	for _, row := range rows {
		values[row[0]+"/"+row[1]] = row[2]
	}
	return values
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	f, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatalf("the reference has %q where a number was expected", text)
	}
	return f
}

// between reads "500..2500".
func between(t *testing.T, text string) (low, high float64) {
	t.Helper()
	a, b, ok := strings.Cut(text, "..")
	if !ok {
		t.Fatalf("the reference has %q where low..high was expected", text)
	}
	return number(t, a), number(t, b)
}

// standardPatterns are the fire pattern of ISO 8201 (its times stored in a
// building code) and the carbon-monoxide pattern of NFPA 72 (its pulse off time
// is from memory: a lead, not proof).
func standardPatterns(t *testing.T) map[string]standardPattern {
	values := reference(t)
	seconds := func(key string) time.Duration {
		return time.Duration(number(t, values[key]) * float64(time.Second))
	}
	return map[string]standardPattern{
		"temporal-three": {
			on: seconds("temporal_three/pulse on"), off: seconds("temporal_three/pulse off"),
			pulses: int(number(t, values["temporal_three/pulses per group"])),
			pauses: []time.Duration{seconds("temporal_three/pause after third pulse")},
		},
		"temporal-four": {
			on: seconds("temporal_four/pulse on"), off: seconds("temporal_four/pulse off"),
			pulses: int(number(t, values["temporal_four/pulses per group"])),
			pauses: []time.Duration{seconds("temporal_four/pause"), seconds("temporal_four/after first 4 min pause may be")},
		},
	}
}

// The listener must know the true patterns, over their whole tolerance, or its
// not hearing them in ours would prove nothing.
func TestListenerKnowsTheStandardPatterns(t *testing.T) {
	for name, pattern := range standardPatterns(t) {
		for _, factor := range []float64{0.91, 1, 1.09} {
			heard := stretches(pattern.samples(sampleRate, factor), sampleRate)
			if !pattern.heardIn(heard, 0.10) {
				t.Errorf("%s at %.2f of its times is not recognised: %v", name, factor, heard)
			}
		}
		for _, factor := range []float64{0.75, 1.25} {
			if pattern.heardIn(stretches(pattern.samples(sampleRate, factor), sampleRate), 0.10) {
				t.Errorf("%s at %.2f of its times is taken for the true one", name, factor)
			}
		}
		for other, stranger := range standardPatterns(t) {
			if other != name && stranger.heardIn(stretches(pattern.samples(sampleRate, 1), sampleRate), 0.10) {
				t.Errorf("%s is taken for %s", name, other)
			}
		}
	}
}

// Ours stay outside the published tolerance of ±10 %, and outside twice that.
func TestOurPatternsAreNoneOfTheStandardOnes(t *testing.T) {
	for _, level := range []Level{Notice, Test, Warning, Danger} {
		heard := stretches(soundOf(level, 30*time.Second), sampleRate)
		for name, pattern := range standardPatterns(t) {
			for _, tolerance := range []float64{0.10, 0.20} {
				if pattern.heardIn(heard, tolerance) {
					t.Errorf("%s is within ±%.0f %% of %s", level, 100*tolerance, name)
				}
			}
		}
	}
}

// ISO 7731: pulsed at 0.5–4 Hz, main components within 500–2,500 Hz. Both rows
// of the reference are marked 'memory': leads, not proof.
func TestAlarmPatternsKeepToISO7731(t *testing.T) {
	values := reference(t)
	lowHertz, highHertz := between(t, values["iso7731/frequency range"])
	const slowest, fastest = 0.5, 4.0 // pulses a second, from the row iso7731/temporal
	if !strings.Contains(values["iso7731/temporal"], fmt.Sprintf("%v..%v Hz", slowest, fastest)) {
		t.Fatalf("the reference now says %q", values["iso7731/temporal"])
	}
	for _, level := range []Level{Warning, Danger} {
		samples := soundOf(level, 10*time.Second)
		heard := stretches(samples, sampleRate)
		if len(heard) < 5 {
			t.Fatalf("%s: only %d pulses heard in %v", level, len(heard), lengthOf(samples))
		}
		for i, s := range heard {
			rate := 1 / (s.on + s.off).Seconds()
			if rate < slowest || rate > fastest {
				t.Errorf("%s: pulse %d comes at %.2f Hz, want %v..%v", level, i, rate, slowest, fastest)
			}
		}
		strongest, share := spectrum(samples[:2*sampleRate], sampleRate, lowHertz, highHertz)
		if strongest < lowHertz || strongest > highHertz || share < 0.99 {
			t.Errorf("%s: strongest at %.0f Hz, %.1f %% of the power within %.0f–%.0f Hz",
				level, strongest, 100*share, lowHertz, highHertz)
		}
	}
}

// What was designed is what is heard: sound by envelope within 16 ms and quiet
// within 24 ms (swell and fade are part of both), strongest tone within 20 Hz.
func TestPatternsSoundAsDesigned(t *testing.T) {
	const ms = time.Millisecond
	for _, tt := range []struct {
		level     Level
		times     []stretch
		strongest float64
	}{
		{Danger, []stretch{{340 * ms, 120 * ms}, {140 * ms, 140 * ms}, {140 * ms, 220 * ms}}, 1160},
		{Warning, []stretch{{360 * ms, 300 * ms}, {180 * ms, 1200 * ms}}, 640},
		{Test, []stretch{{700 * ms, 300 * ms}, {700 * ms, 600 * ms}}, 1160},
	} {
		pattern, _ := PatternOf(tt.level)
		samples := pattern.Samples(sampleRate)
		heard := stretches(samples, sampleRate)
		if len(heard) != len(tt.times) {
			t.Fatalf("%s: %d pulses heard, want %d: %v", tt.level, len(heard), len(tt.times), heard)
		}
		for i, want := range tt.times {
			if (heard[i].on-want.on).Abs() > 16*ms || (heard[i].off-want.off).Abs() > 24*ms {
				t.Errorf("%s: pulse %d is heard as %v, want %v", tt.level, i, heard[i], want)
			}
		}
		if strongest, _ := spectrum(samples, sampleRate, 0, 0); math.Abs(strongest-tt.strongest) > 20 {
			t.Errorf("%s: strongest at %.0f Hz, want %.0f", tt.level, strongest, tt.strongest)
		}
	}
}

func TestDangerIsMoreUrgentThanWarning(t *testing.T) {
	danger, warning := soundOf(Danger, 10*time.Second), soundOf(Warning, 10*time.Second)
	rate := func(samples []int16) float64 {
		return float64(len(stretches(samples, sampleRate))) / lengthOf(samples).Seconds()
	}
	if d, w := rate(danger), rate(warning); d < 2*w {
		t.Errorf("danger pulses at %.2f Hz, warning at %.2f Hz: want at least twice as fast", d, w)
	}
	if d, w := rms(danger), rms(warning); d < 2*w {
		t.Errorf("danger has an RMS of %.0f, warning of %.0f: want at least 6 dB more", d, w)
	}
	pitchDanger, _ := spectrum(danger[:sampleRate], sampleRate, 0, 0)
	pitchWarning, _ := spectrum(warning[:sampleRate], sampleRate, 0, 0)
	if pitchDanger < 1.5*pitchWarning {
		t.Errorf("danger is strongest at %.0f Hz, warning at %.0f Hz: want it clearly higher", pitchDanger, pitchWarning)
	}
	if n, w := rms(soundOf(Notice, 0)), rms(warning); n > w {
		t.Errorf("a notice has an RMS of %.0f, a warning of %.0f: want it softer", n, w)
	}
}

// No click and no clipping: no sample at full scale, silence at both ends of a
// cycle, and no step between two samples greater than the steepest sine of the
// voice makes.
func TestPatternsAreSmooth(t *testing.T) {
	for _, level := range []Level{Notice, Test, Warning, Danger} {
		pattern, _ := PatternOf(level)
		samples := pattern.Samples(sampleRate)
		if peak := peakOf(samples); peak > math.MaxInt16*9/10 {
			t.Errorf("%s peaks at %d of %d", level, peak, math.MaxInt16)
		}
		if samples[0] != 0 || samples[len(samples)-1] != 0 {
			t.Errorf("%s starts at %d and ends at %d, want silence", level, samples[0], samples[len(samples)-1])
		}
		var steepest float64
		for _, pulse := range pattern {
			slope := 0.0
			for _, tone := range pulse.Voice {
				slope += tone.Amplitude * 2 * math.Pi * tone.Hertz / sampleRate
			}
			steepest = max(steepest, slope*math.MaxInt16)
		}
		for i := 1; i < len(samples); i++ {
			if step := math.Abs(float64(samples[i]) - float64(samples[i-1])); step > 1.05*steepest {
				t.Fatalf("%s jumps by %.0f at sample %d, want at most %.0f", level, step, i, steepest)
			}
		}
	}
}

func TestSilenceHasNoPattern(t *testing.T) {
	for _, level := range []Level{Silence, Danger + 1} {
		if _, ok := PatternOf(level); ok || len(soundOf(level, time.Second)) != 0 {
			t.Errorf("%s has a pattern", level)
		}
	}
}

func TestAlarmFilesLastLongEnough(t *testing.T) {
	for _, level := range []Level{Warning, Danger} {
		if got := lengthOf(soundOf(level, alarmSpan)); got < alarmSpan || got > alarmSpan+3*time.Second {
			t.Errorf("%s lasts %v, want just over %v", level, got, alarmSpan)
		}
	}
	if got := lengthOf(nearSilence()); got != 50*time.Millisecond || peakOf(nearSilence()) > 1 {
		t.Errorf("the near-silence lasts %v and peaks at %d", got, peakOf(nearSilence()))
	}
}

func TestWAVHeader(t *testing.T) {
	samples := []int16{0, 1, -1, math.MaxInt16, math.MinInt16}
	wav := EncodeWAV(samples, 44100)
	if len(wav) != 44+2*len(samples) {
		t.Fatalf("%d bytes, want %d", len(wav), 44+2*len(samples))
	}
	for _, tag := range []struct {
		at   int
		want string
	}{{0, "RIFF"}, {8, "WAVE"}, {12, "fmt "}, {36, "data"}} {
		if got := string(wav[tag.at : tag.at+4]); got != tag.want {
			t.Errorf("at %d: %q, want %q", tag.at, got, tag.want)
		}
	}
	for _, field := range []struct {
		name           string
		at, size, want int
	}{
		{"RIFF length", 4, 4, len(wav) - 8},
		{"format length", 16, 4, 16},
		{"PCM", 20, 2, 1},
		{"channels", 22, 2, 1},
		{"sample rate", 24, 4, 44100},
		{"bytes a second", 28, 4, 88200},
		{"bytes a frame", 32, 2, 2},
		{"bits", 34, 2, 16},
		{"data length", 40, 4, 2 * len(samples)},
	} {
		got := int(binary.LittleEndian.Uint16(wav[field.at:]))
		if field.size == 4 {
			got = int(binary.LittleEndian.Uint32(wav[field.at:]))
		}
		if got != field.want {
			t.Errorf("%s: %d, want %d", field.name, got, field.want)
		}
	}
	for i, want := range samples {
		if got := int16(binary.LittleEndian.Uint16(wav[44+2*i:])); got != want {
			t.Errorf("sample %d: %d, want %d", i, got, want)
		}
	}
}
