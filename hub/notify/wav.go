package notify

import (
	"encoding/binary"
	"time"
)

// sampleRate is what most sound hardware runs at by itself.
const sampleRate = 48000

// alarmSpan is how long the file of a repeating sound at least is. Players are
// started anew for each file, which leaves a gap of some hundredths of a
// second; this makes such gaps rare while the files stay small.
const alarmSpan = 15 * time.Second

// EncodeWAV writes samples as a WAV file: 16-bit PCM, one channel, rate samples
// a second (RIFF, "Multimedia Programming Interface and Data Specifications
// 1.0", 1991).
func EncodeWAV(samples []int16, rate int) []byte {
	const bytesPerSample = 2
	size := len(samples) * bytesPerSample
	b := make([]byte, 0, 44+size)
	b = append(b, "RIFF"...)
	b = binary.LittleEndian.AppendUint32(b, uint32(36+size))
	b = append(b, "WAVEfmt "...)
	b = binary.LittleEndian.AppendUint32(b, 16) // length of what describes the format
	b = binary.LittleEndian.AppendUint16(b, 1)  // PCM
	b = binary.LittleEndian.AppendUint16(b, 1)  // channels
	b = binary.LittleEndian.AppendUint32(b, uint32(rate))
	b = binary.LittleEndian.AppendUint32(b, uint32(rate*bytesPerSample))
	b = binary.LittleEndian.AppendUint16(b, bytesPerSample)
	b = binary.LittleEndian.AppendUint16(b, 8*bytesPerSample)
	b = append(b, "data"...)
	b = binary.LittleEndian.AppendUint32(b, uint32(size))
	for _, s := range samples {
		b = binary.LittleEndian.AppendUint16(b, uint16(s))
	}
	return b
}

// cyclesOf is how often a sound repeats its pattern: an alarm until it reaches
// span, the test twice, the notice once.
func cyclesOf(level Level, span time.Duration) int {
	pattern, ok := PatternOf(level)
	switch {
	case !ok:
		return 0
	case level == Test:
		return 2
	case level == Notice:
		return 1
	}
	return max(1, int((span+pattern.Cycle()-1)/pattern.Cycle()))
}

// soundOf gives the samples of a whole sound; none for Silence.
func soundOf(level Level, span time.Duration) []int16 {
	pattern, _ := PatternOf(level)
	cycle := pattern.Samples(sampleRate)
	var samples []int16
	for range cyclesOf(level, span) {
		samples = append(samples, cycle...)
	}
	return samples
}

// nearSilence is 50 ms of the least there is: enough for a player to open its
// device, too little for ears.
func nearSilence() []int16 {
	samples := make([]int16, sampleRate/20)
	for i := range samples {
		samples[i] = int16(i & 1)
	}
	return samples
}
