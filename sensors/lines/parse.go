package lines

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"time"

	"simmerline/sensors"
)

// Parser turns whole lines into readings. It holds no more than the mapping of
// the bench file, and may be used by several goroutines.
type Parser struct {
	config sensors.LinesConfig
}

// NewParser makes the parser of a port. It refuses a mapping that no line could
// ever meet, with all that is wrong in it.
func NewParser(config sensors.LinesConfig) (*Parser, error) {
	var faults []error
	if len(config.Channels) == 0 {
		faults = append(faults, errors.New("lines: the port has no channels; give it one, or leave it out"))
	}
	if config.Format > sensors.LineJSON {
		faults = append(faults, fmt.Errorf("lines: format %d is not known", config.Format))
	}
	if config.Check > sensors.LineXORRequired {
		faults = append(faults, fmt.Errorf("lines: check %d is not known", config.Check))
	}
	for _, c := range config.Channels {
		switch {
		case config.Format == sensors.LineCSV && (c.Column < 1 || c.Column > MaxLine):
			faults = append(faults, fmt.Errorf("lines: channel %q: column %d can't be; columns count from 1", c.Name, c.Column))
		case config.Format != sensors.LineCSV && c.Key == "":
			faults = append(faults, fmt.Errorf("lines: channel %q has no key; say what its line calls it", c.Name))
		case config.Format == sensors.LineNameValue && strings.ContainsAny(c.Key, pairSeparators+"="):
			faults = append(faults, fmt.Errorf("lines: channel %q: key %q holds what parts names and values; use none of blank, comma, semicolon, =", c.Name, c.Key))
		}
	}
	if len(faults) > 0 {
		return nil, errors.Join(faults...)
	}
	return &Parser{config: config}, nil
}

// Parse adds the readings of one line, which was complete at the given offset,
// or counts why there are none.
func (p *Parser) Parse(line []byte, at time.Duration, into *sensors.Exchanged) {
	before := len(into.Readings)
	err := p.parse(line, at, into)
	if err == nil && len(into.Readings) == before {
		err = errNotMapped
	}
	switch {
	case err == nil:
		for _, r := range into.Readings[before:] {
			if r.Reason == sensors.ReasonNotANumber {
				into.Faults.NotANumber++
			}
		}
		return
	case errors.Is(err, errBadChecksum):
		into.Faults.BadChecksum++
	case errors.Is(err, errNotMapped):
		into.Faults.NotMapped++
	default:
		into.Faults.Malformed++
	}
	// A line that is damaged in one place is not to be trusted in another.
	into.Readings = into.Readings[:before]
}

func (p *Parser) parse(line []byte, at time.Duration, into *sensors.Exchanged) error {
	text, err := checked(line, p.config.Check)
	if err != nil {
		return err
	}
	if !isPlainText(text) {
		return errMalformed
	}
	found := finder{channels: p.config.Channels, at: at, before: len(into.Readings), into: into}
	switch p.config.Format {
	case sensors.LineCSV:
		return found.csv(text)
	case sensors.LineJSON:
		return found.json(text)
	default:
		return found.pairs(text)
	}
}

// finder gathers the readings of one line.
type finder struct {
	channels []sensors.LineChannel
	at       time.Duration
	before   int // readings of earlier lines
	into     *sensors.Exchanged
}

// value adds the reading of a channel whose value was found, and refuses a
// second one and a damaged one.
func (f *finder) value(c *sensors.LineChannel, text string) error {
	for _, earlier := range f.into.Readings[f.before:] {
		if earlier.Channel == c.Name {
			return fmt.Errorf("%w: %s comes twice", errMalformed, c.Name)
		}
	}
	r, ok := reading(&c.Channel, text, f.at)
	if !ok {
		return errMalformed
	}
	f.into.Readings = append(f.into.Readings, r)
	return nil
}

// named gives a value to every channel that goes by this name.
func (f *finder) named(name []byte, text []byte) error {
	for i := range f.channels {
		if f.channels[i].Key != string(name) {
			continue
		}
		if err := f.value(&f.channels[i], string(text)); err != nil {
			return err
		}
	}
	return nil
}

// pairSeparators part one name=value from the next.
const pairSeparators = " \t,;"

// pairs reads name=value, several on a line.
func (f *finder) pairs(text []byte) error {
	for {
		text = bytes.TrimLeft(text, pairSeparators)
		if len(text) == 0 {
			return nil
		}
		pair, rest := text, []byte(nil)
		if end := bytes.IndexAny(text, pairSeparators); end >= 0 {
			pair, rest = text[:end], text[end:]
		}
		name, value, found := bytes.Cut(pair, []byte{'='})
		if !found || len(name) == 0 {
			return errMalformed
		}
		if err := f.named(name, value); err != nil {
			return err
		}
		text = rest
	}
}

// csv reads values in columns; all that are mapped must be there.
func (f *finder) csv(text []byte) error {
	for i := range f.channels {
		c := &f.channels[i]
		field, ok := column(text, c.Column)
		if !ok {
			return errMalformed
		}
		if err := f.value(c, string(field)); err != nil {
			return err
		}
	}
	return nil
}

// column finds the nth field, counted from 1, without the blanks around it.
func column(text []byte, n int) (field []byte, ok bool) {
	for ; n > 1; n-- {
		comma := bytes.IndexByte(text, ',')
		if comma < 0 {
			return nil, false
		}
		text = text[comma+1:]
	}
	if comma := bytes.IndexByte(text, ','); comma >= 0 {
		text = text[:comma]
	}
	return bytes.Trim(text, " \t"), true
}
