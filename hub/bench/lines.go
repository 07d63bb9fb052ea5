package bench

import (
	"fmt"
	"strings"

	"simmerline/sensors"
)

// readLines reads how a device prints its lines.
func (d *draft) readLines(s *section) *sensors.LinesConfig {
	lines := &sensors.LinesConfig{}
	if i, ok := s.choice("format", "name=value", "csv", "json"); ok {
		lines.Format = sensors.LineFormat(i)
	}
	if i, ok := s.choice("check", "none", "where-there", "required"); ok {
		lines.Check = sensors.LineCheck(i)
	}
	return lines
}

// readLineChannel reads where a line holds a channel: by name or path, or by
// column.
func (d *draft) readLineChannel(s *section, p *port, ch *channel) {
	lines := p.config.Lines
	line := sensors.LineChannel{Channel: ch.Channel}
	if lines.Format == sensors.LineCSV {
		s.need("column", "and its number; the first column is 1")
		line.Column, _ = s.integer("column", 1, 256)
		s.misplaced("is for lines of names", "take it out; in csv, column says where", "from")
	} else {
		s.need("from", "and the name that stands before the value in a line")
		line.Key = s.text("from", 60)
		if lines.Format == sensors.LineNameValue && strings.ContainsAny(line.Key, " =,;*") {
			s.trouble("from", &problem{quote(line.Key) + " can't be a name in a line of name=value", "write the name alone, as t1"})
		}
		s.misplaced("is for csv", "take it out; from says where", "column")
	}
	for _, other := range lines.Channels {
		if (line.Key != "" && other.Key == line.Key) || (line.Column != 0 && other.Column == line.Column) {
			d.c.fault(ch.at, "give each channel its own", "%s is read from the same place in the line as channel %s", s.what, other.Name)
		}
	}
	lines.Channels = append(lines.Channels, line)
}

// unprotected says whether flipped bits on the wire may go unnoticed.
func (p *port) unprotected() bool {
	return p.config.Lines != nil && p.config.Lines.Check != sensors.LineXORRequired
}

// guard says in words what guards the wire.
func (p *port) guard() string {
	switch {
	case p.config.Modbus != nil:
		return "every answer is checked (CRC-16)"
	case p.config.Lines.Check == sensors.LineXORRequired:
		return "a line without a good check is refused"
	case p.config.Lines.Check == sensors.LineXORWhereThere:
		return "a line is checked only where it carries a check"
	default:
		return "unprotected: nothing checks the lines"
	}
}

// protocol says in words how a port speaks, and how fast.
func (p *port) protocol() string {
	serial := p.config.Serial
	words := fmt.Sprintf("%d baud %d%c%d", serial.Baud, serial.DataBits, "NOE"[serial.Parity], serial.StopBits)
	if p.config.Modbus != nil {
		return fmt.Sprintf("modbus, %s, %s", unitWords(*p.config.Modbus), words)
	}
	return fmt.Sprintf("lines of %s, %s", [...]string{"name=value", "csv", "json"}[p.config.Lines.Format], words)
}
