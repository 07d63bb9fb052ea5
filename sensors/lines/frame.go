package lines

import (
	"bytes"
	"time"

	"simmerline/sensors"
)

const (
	// MaxLine is the most bytes that a line may have before its end.
	MaxLine = 512
	// longestPause is how long a line may rest before its end. Boards that
	// measure between two prints pause for a second or two; what comes later
	// than this may well be another line, after a loose plug or a restart.
	longestPause = 5 * time.Second
)

// Framer cuts what arrives into lines. The zero Framer, like one that has been
// reset, drops what comes before the first end of a line.
type Framer struct {
	line    [MaxLine]byte
	length  int
	latest  time.Duration // when the last byte of the line came
	inLine  bool          // bytes have come since the last end of a line
	started bool          // an end of a line has been seen since the reset
	damaged bool          // drop everything up to the end of this line
}

// Reset forgets what is half received, as after an open.
func (f *Framer) Reset() { *f = Framer{} }

// Feed takes bytes, the last of which arrived at the given offset, and gives
// each line that they complete, without its end. The line is valid during the
// call only. Empty lines are passed over.
func (f *Framer) Feed(p []byte, at time.Duration, faults *sensors.Faults, give func(line []byte)) {
	if len(p) == 0 {
		return
	}
	if f.inLine && at-f.latest > longestPause {
		f.drop(&faults.Malformed)
	}
	for len(p) > 0 {
		end := bytes.IndexAny(p, "\r\n")
		if end < 0 {
			f.add(p, faults)
			break
		}
		f.add(p[:end], faults)
		if f.started && !f.damaged && f.length > 0 {
			give(f.line[:f.length])
		}
		f.started, f.damaged, f.inLine, f.length = true, false, false, 0
		p = p[end+1:]
	}
	f.latest = at
}

// add lengthens the line.
func (f *Framer) add(p []byte, faults *sensors.Faults) {
	if len(p) == 0 {
		return
	}
	f.inLine = true
	if f.length+len(p) > MaxLine {
		f.drop(&faults.Oversize)
	}
	if !f.damaged {
		f.length += copy(f.line[f.length:], p)
	}
}

// drop gives up the rest of this line, and counts it once.
func (f *Framer) drop(counter *uint64) {
	if !f.damaged {
		*counter++
	}
	f.damaged = true
	f.length = 0
}
