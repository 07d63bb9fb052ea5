package lines

import (
	"bytes"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"simmerline/sensors"
	"simmerline/sensors/sensorstest"
)

// frame feeds chunks that come a millisecond apart and gives the lines.
func frame(f *Framer, chunks ...string) ([]string, sensors.Faults) {
	var lines []string
	var faults sensors.Faults
	for i, chunk := range chunks {
		f.Feed([]byte(chunk), time.Duration(i)*time.Millisecond, &faults, func(line []byte) { lines = append(lines, string(line)) })
	}
	return lines, faults
}

func TestFramer(t *testing.T) {
	long := strings.Repeat("x", MaxLine)
	for _, test := range []struct {
		name   string
		chunks []string
		want   []string
		faults sensors.Faults
	}{
		{"nothing", nil, nil, sensors.Faults{}},
		{"the first fragment is dropped", []string{"8.4\nhot=68.4\n"}, []string{"hot=68.4"}, sensors.Faults{}},
		{"a first fragment that looks whole is dropped too", []string{"hot=68.4\n"}, nil, sensors.Faults{}},
		{"no fragment when we come in at an end", []string{"\nhot=68.4\n"}, []string{"hot=68.4"}, sensors.Faults{}},
		{"every kind of end", []string{"\na\nb\r\nc\rd\n\r\r\n\ne\n"}, []string{"a", "b", "c", "d", "e"}, sensors.Faults{}},
		{"an end torn in two", []string{"\na\r", "\nb\r", "\n"}, []string{"a", "b"}, sensors.Faults{}},
		{"no end yet", []string{"\nhot=68."}, nil, sensors.Faults{}},
		{"NUL and garbage are the parser's to judge", []string{"\n\x00a\xff\xfe\n"}, []string{"\x00a\xff\xfe"}, sensors.Faults{}},
		{"longest", []string{"\n" + long + "\nb\n"}, []string{long, "b"}, sensors.Faults{}},
		{"too long", []string{"\n" + long + "x\nb\n"}, []string{"b"}, sensors.Faults{Oversize: 1}},
		{"too long in pieces", []string{"\n" + long, "x", long, long + "\n", "b\n"}, []string{"b"}, sensors.Faults{Oversize: 1}},
		{"a flood from the first byte on is counted", []string{long, long, long}, nil, sensors.Faults{Oversize: 1}},
	} {
		var f Framer
		got, faults := frame(&f, test.chunks...)
		if !slices.Equal(got, test.want) || faults != test.faults {
			t.Errorf("%s: %q, %+v; want %q, %+v", test.name, got, faults, test.want, test.faults)
		}
	}
}

func TestFramerDropsTheFirstFragmentAfterEveryReset(t *testing.T) {
	var f Framer
	frame(&f, "\nhot=6")
	f.Reset()
	if got, _ := frame(&f, "8.4\nhot=70\n"); !slices.Equal(got, []string{"hot=70"}) {
		t.Errorf("after a reset: %q", got)
	}
}

func TestFramerDropsALineThatRestsTooLong(t *testing.T) {
	for _, test := range []struct {
		pause  time.Duration
		want   []string
		faults sensors.Faults
	}{
		{longestPause, []string{"hot=68.4", "hot=70"}, sensors.Faults{}},
		{longestPause + 1, []string{"hot=70"}, sensors.Faults{Malformed: 1}},
	} {
		var f Framer
		var got []string
		var faults sensors.Faults
		give := func(line []byte) { got = append(got, string(line)) }
		f.Feed([]byte("\nhot=6"), 0, &faults, give)
		f.Feed([]byte("8.4\n"), test.pause, &faults, give)
		f.Feed([]byte("hot=70\n"), test.pause*9, &faults, give) // between lines there is no limit
		if !slices.Equal(got, test.want) || faults != test.faults {
			t.Errorf("a pause of %v gives %q, %+v", test.pause, got, faults)
		}
	}
}

// slowFrame is the framer said plainly: cut at every end, forget the first
// piece and the unfinished last, and what is empty or too long.
func slowFrame(p []byte) (lines []string, oversize uint64) {
	pieces := strings.Split(strings.ReplaceAll(string(p), "\r", "\n"), "\n")
	for i, piece := range pieces {
		switch {
		case len(piece) > MaxLine:
			oversize++
		case i > 0 && i < len(pieces)-1 && piece != "":
			lines = append(lines, piece)
		}
	}
	return lines, oversize
}

func TestFramerGivesTheSameLinesInAnyPieces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		part := rapid.OneOf(
			rapid.SampledFrom([]string{"\n", "\r", "\r\n", "\x00", "hot=68.4", "é", "\xff"}),
			rapid.Map(rapid.IntRange(0, 700), func(n int) string { return strings.Repeat("x", n) }))
		stream := []byte(strings.Join(rapid.SliceOfN(part, 0, 30).Draw(t, "parts"), ""))
		want, oversize := slowFrame(stream)
		var f Framer
		var got []string
		var faults sensors.Faults
		for rest := stream; len(rest) > 0; {
			n := rapid.IntRange(1, min(len(rest), 900)).Draw(t, "piece")
			f.Feed(rest[:n], 0, &faults, func(line []byte) { got = append(got, string(line)) })
			rest = rest[n:]
		}
		if !slices.Equal(got, want) || faults != (sensors.Faults{Oversize: oversize}) {
			t.Errorf("%q: %q, %+v; want %q, %d too long", stream, got, faults, want, oversize)
		}
	})
}

// recorded is what arrived in the recordings of boards, to begin fuzzing from.
func recorded(f *testing.F) (chunks [][]byte) {
	f.Helper()
	for _, name := range []string{"lines_thermocouple_board.rec", "lines_checked.rec"} {
		for _, event := range sensorstest.Load(f, "../../testdata/serial/"+name) {
			if event.Kind == sensorstest.Arrived {
				chunks = append(chunks, event.Bytes)
			}
		}
	}
	return chunks
}

func FuzzFrame(f *testing.F) {
	f.Add(slices.Concat(recorded(f)...), uint8(16))
	f.Add([]byte("8.4\r\nhot=68.4\r\n\x00\xff"), uint8(3))
	f.Add(bytes.Repeat([]byte("x"), 1100), uint8(200))
	f.Fuzz(func(t *testing.T, stream []byte, size uint8) {
		want, oversize := slowFrame(stream)
		var framer Framer
		var got []string
		var faults sensors.Faults
		for chunk := range slices.Chunk(stream, int(size)+1) {
			framer.Feed(chunk, 0, &faults, func(line []byte) { got = append(got, string(line)) })
		}
		if !slices.Equal(got, want) || faults != (sensors.Faults{Oversize: oversize}) {
			t.Errorf("%q: %q, %+v; want %q, %d too long", stream, got, faults, want, oversize)
		}
	})
}
