package sensorstest

import (
	"bytes"
	"errors"
	"math/bits"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"simmerline/sensors"
)

const ms = time.Millisecond

// strict stands in for a test, to see whether it would have failed.
type strict struct {
	testing.TB
	failed bool
}

func (s *strict) Helper()               {}
func (s *strict) Cleanup(func())        {}
func (s *strict) Errorf(string, ...any) { s.failed = true }

func recording(t *testing.T, text string) Recording {
	t.Helper()
	r, err := ParseRecording(text)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestPlaybackKeepsTheTimes(t *testing.T) {
	p := NewPlayback(t, recording(t, "> 10ms 01\n< 30ms 02 03\n< 2s \"ab\"\n! 3s unplugged\n"))
	var buffer [8]byte
	expect := func(wait time.Duration, want string, at time.Duration, end error) {
		t.Helper()
		n, got, err := p.Read(buffer[:], wait)
		if string(buffer[:n]) != want || got != at || !errors.Is(err, end) {
			t.Errorf("read %q at %v, %v; want %q at %v, %v", buffer[:n], got, err, want, at, end)
		}
	}
	expect(100*ms, "", 100*ms, sensors.ErrTimeout) // nothing comes before the question
	if err := p.Write([]byte{1}); err != nil {
		t.Fatal(err)
	}
	expect(10*ms, "", 110*ms, sensors.ErrTimeout)
	expect(100*ms, "\x02\x03", 120*ms, nil)
	p.Lump = 1
	expect(2*time.Second, "a", 2090*ms, nil)
	expect(2*time.Second, "b", 2090*ms, nil)
	expect(2*time.Second, "", 3090*ms, sensors.ErrUnplugged)
	expect(2*time.Second, "", 3090*ms, sensors.ErrUnplugged)
	if err := p.Write([]byte{1}); !errors.Is(err, sensors.ErrUnplugged) {
		t.Errorf("write after the end: %v", err)
	}
}

func TestPlaybackDiscardsWhatHasCome(t *testing.T) {
	p := NewPlayback(t, recording(t, "< 0ms 01 02\n< 50ms 03\n! 60ms closed\n"))
	if err := p.Discard(); err != nil || p.Discarded != 2 {
		t.Errorf("%d bytes discarded, %v; want the 2 that have come", p.Discarded, err)
	}
	p.Pass(100 * ms)
	if err := p.Discard(); !errors.Is(err, sensors.ErrClosed) || p.Discarded != 3 {
		t.Errorf("%d bytes discarded, %v; want 3 and the end", p.Discarded, err)
	}
}

func TestPlaybackFailsTheTest(t *testing.T) {
	for name, use := range map[string]func(p *Playback){
		"another write":   func(p *Playback) { p.Write([]byte{9}) },
		"left over":       func(p *Playback) { p.Close() },
		"half left over":  func(p *Playback) { p.Write([]byte{1}); p.Lump = 1; p.Read(make([]byte, 1), time.Second); p.Close() },
		"one write more":  func(p *Playback) { p.Write([]byte{1}); p.Read(make([]byte, 2), time.Second); p.Write([]byte{1}) },
		"write too early": func(p *Playback) { p.Write([]byte{1}); p.Write([]byte{1}) },
	} {
		s := &strict{}
		use(NewPlayback(s, recording(t, "> 0ms 01\n< 5ms 02 03\n")))
		if !s.failed {
			t.Errorf("%s: the test did not fail", name)
		}
	}
	s := &strict{}
	p := NewPlayback(s, recording(t, "> 0ms 01\n< 5ms 02 03\n"))
	p.Write([]byte{1})
	p.Read(make([]byte, 2), time.Second)
	if p.Close(); s.failed {
		t.Error("the test failed though all was used")
	}
}

// What a recorder keeps of a recording being played is that recording.
func TestRecorderKeepsWhatPasses(t *testing.T) {
	want := recording(t, "> 0s 01 02\n< 20ms 03 04\n< 25ms 05\n> 25ms 06\n! 40ms closed\n")
	p := NewPlayback(t, want)
	r := NewRecorder(p, p.Now)
	var buffer [8]byte
	r.Write([]byte{1, 2})
	r.Read(buffer[:], time.Second)
	r.Read(buffer[:], time.Second)
	if err := r.Discard(); err != nil {
		t.Error(err)
	}
	r.Write([]byte{6})
	r.Read(buffer[:], 1*ms)
	r.Read(buffer[:], time.Second)
	if got := r.Recording(); !reflect.DeepEqual(got, want) {
		t.Errorf("kept:\n%swant:\n%s", got, want)
	}
}

func TestRecordingsRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var want Recording
		at := time.Duration(0)
		for range rapid.IntRange(0, 8).Draw(t, "events") {
			at += time.Duration(rapid.Int64Range(0, int64(time.Hour)).Draw(t, "after"))
			e := Event{At: at, Kind: rapid.SampledFrom([]Kind{Written, Arrived, Ended}).Draw(t, "kind")}
			if e.Kind == Ended {
				e.Err = rapid.SampledFrom([]error{sensors.ErrClosed, sensors.ErrUnplugged}).Draw(t, "end")
			} else {
				e.Bytes = rapid.OneOf(rapid.SliceOfN(rapid.Byte(), 1, 20),
					rapid.Map(rapid.StringMatching(`[ -~\r\n\t]{1,20}`), func(s string) []byte { return []byte(s) })).Draw(t, "bytes")
			}
			want = append(want, e)
		}
		got, err := ParseRecording(want.String())
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%v:\n%v\nwant\n%v", err, got, want)
		}
	})
}

func FuzzParseRecording(f *testing.F) {
	f.Add("> 0s 01 02\n# a comment\n< 20ms \"ab\"\n! 40ms closed\n")
	f.Fuzz(func(t *testing.T, text string) {
		r, err := ParseRecording(text)
		if err != nil {
			return
		}
		if again, err := ParseRecording(r.String()); err != nil || again.String() != r.String() {
			t.Errorf("%q is read again as %q, %v", r.String(), again.String(), err)
		}
	})
}

func TestParseRecordingSaysWhereItIsWrong(t *testing.T) {
	for text, says := range map[string]string{
		"> 0s 01\n? 1s 02":     "line 2: sign",
		"> soon 01":            "line 1: offset",
		"> 0s 0":               "line 1: bytes",
		"> 0s":                 "line 1: bytes",
		"> 0s \"a":             "line 1: text",
		"! 0s lost":            "line 1: end",
		"> 2s 01\n\n< 1s 02\n": "line 3: 1s is before",
	} {
		if _, err := ParseRecording(text); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v, want %q in it", text, err, says)
		}
	}
}

func TestStoredRecordingsCanBeRead(t *testing.T) {
	paths, err := filepath.Glob("../../testdata/serial/*.rec")
	if err != nil || len(paths) == 0 {
		t.Fatalf("no recordings: %v", err)
	}
	for _, path := range paths {
		if len(Load(t, path)) == 0 {
			t.Errorf("%s is empty", path)
		}
	}
}

func TestFaultsDoWhatTheySay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SliceOfN(rapid.Byte(), 0, 40).Draw(t, "bytes")
		before := bytes.Clone(p)
		seed, n := rapid.Uint64().Draw(t, "seed"), rapid.IntRange(0, 50).Draw(t, "n")
		flips := 0
		for i, b := range FlipBits(seed, p, n) {
			flips += bits.OnesCount8(b ^ p[i])
		}
		if want := min(n, 8*len(p)); flips != want {
			t.Errorf("%d bits flipped, want %d", flips, want)
		}
		if got, want := len(Drop(seed, p, n)), max(0, len(p)-n); got != want {
			t.Errorf("%d bytes left, want %d", got, want)
		}
		if got, want := len(Duplicate(seed, p, n)), len(p)+min(n, len(p)); got != want {
			t.Errorf("%d bytes with some doubled, want %d", got, want)
		}
		if noise := Noise(seed, n); len(noise) != n || !bytes.Equal(noise, Noise(seed, n)) {
			t.Errorf("noise % X is not %d bytes, or not the same for the same seed", noise, n)
		}
		if !bytes.Equal(Echo(p, noiseOf(seed)), append(bytes.Clone(p), noiseOf(seed)...)) || !bytes.Equal(p, before) {
			t.Error("an echo is not request and reply, or the bytes given were changed")
		}
	})
}

func noiseOf(seed uint64) []byte { return Noise(seed, 5) }
