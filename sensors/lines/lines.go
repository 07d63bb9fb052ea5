package lines

import (
	"errors"
	"time"

	"simmerline/sensors"
)

const (
	// One exchange is one read, and so holds at most this many bytes however
	// fast they come.
	mostBytes = 4096
	// listenFor is how long a read waits for the first of them.
	listenFor = 500 * time.Millisecond
)

// Driver reads the lines of one device.
type Driver struct {
	parser *Parser
	framer Framer
	buffer [mostBytes]byte
}

var _ sensors.Driver = (*Driver)(nil)

// New makes the driver of one port; it refuses what NewParser refuses.
func New(config sensors.LinesConfig) (*Driver, error) {
	parser, err := NewParser(config)
	if err != nil {
		return nil, err
	}
	return &Driver{parser: parser}, nil
}

// Reset forgets a half-received line; the next one is dropped, since it may
// have begun before we came.
func (d *Driver) Reset() { d.framer.Reset() }

// Interval is 0: the device talks by itself.
func (d *Driver) Interval() time.Duration { return 0 }

// Exchange reads once and returns the readings of all lines that it completed.
func (d *Driver) Exchange(link sensors.Link) (sensors.Exchanged, error) {
	var heard sensors.Exchanged
	n, at, err := link.Read(d.buffer[:], listenFor)
	d.framer.Feed(d.buffer[:n], at, &heard.Faults, func(line []byte) {
		d.parser.Parse(line, at, &heard)
	})
	if errors.Is(err, sensors.ErrTimeout) {
		err = nil
	}
	return heard, err
}
