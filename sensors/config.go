package sensors

import "time"

// PortConfig is one port of the bench file: where to find it, how to open it,
// and which protocol is spoken there. Exactly one of Lines and Modbus is set.
type PortConfig struct {
	Name    string // unique: small letters, digits and hyphens
	Address Address
	Serial  SerialConfig
	Lines   *LinesConfig
	Modbus  *ModbusConfig
	// Settle is how long after an open readings are only uncertain, as boards
	// that restart when opened need. 0 means none.
	Settle time.Duration
}

// Channels lists the channels of the port in the order of the bench file.
func (p PortConfig) Channels() []Channel {
	var channels []Channel
	if p.Lines != nil {
		for _, c := range p.Lines.Channels {
			channels = append(channels, c.Channel)
		}
	}
	if p.Modbus != nil {
		for _, c := range p.Modbus.Channels {
			channels = append(channels, c.Channel)
		}
	}
	return channels
}

// Address says which device a port is, whatever node it appears under. Exactly
// one of Path, ByID and USBSerial is set.
type Address struct {
	// Path is a device node: /dev/ttyUSB0, COM3.
	Path string
	// ByID is the name of a link in the system's by-id folder.
	ByID string
	// USBSerial is the serial number that the adapter's USB descriptor gives;
	// VendorID and ProductID, four hex digits each, narrow it where set.
	USBSerial           string
	VendorID, ProductID string
	// Interface is the USB interface number of a device with several ports, and
	// -1 where it does not matter.
	Interface int
}

// Parity of a serial character.
type Parity uint8

// The parities.
const (
	ParityNone Parity = iota
	ParityOdd
	ParityEven
)

// SerialConfig is how a port is opened.
type SerialConfig struct {
	Baud     int // bits per second
	DataBits int // 7 or 8
	Parity   Parity
	StopBits int // 1 or 2
	// DTR and RTS are set to the given level at open where not nil; on a
	// pseudo-terminal there are no such lines, so they are nil by default.
	DTR, RTS *bool
}

// LineFormat is how a line of text carries its values.
type LineFormat uint8

// The line formats.
const (
	LineNameValue LineFormat = iota // name=value, several on a line by blanks, commas or semicolons
	LineCSV                         // values in columns
	LineJSON                        // one JSON object a line
)

// LineCheck is how a line is guarded against flipped bits.
type LineCheck uint8

// The checks of a line.
const (
	LineUnchecked     LineCheck = iota // nothing guards it
	LineXORWhereThere                  // checked where a line ends in *hh
	LineXORRequired                    // a line without *hh is refused
)

// LinesConfig maps the lines that a device prints by itself to channels.
type LinesConfig struct {
	Format   LineFormat
	Check    LineCheck
	Channels []LineChannel
}

// LineChannel is a channel and where a line holds it.
type LineChannel struct {
	Channel
	// Key is the name before the "=", or the dotted path in a JSON object.
	Key string
	// Column counts from 1, for CSV.
	Column int
}

// ModbusConfig is the Modbus RTU devices on the wire of a port: one, or several
// that are told apart by their unit.
type ModbusConfig struct {
	Unit     byte          // 1..247, of the channels that name none
	Every    time.Duration // how often each is asked
	Timeout  time.Duration // how long an answer may take; 0 means 1 s
	Echo     EchoMode
	Channels []ModbusChannel
}

// UnitOf gives the unit that holds a channel: the channel's own, or the port's.
func (m ModbusConfig) UnitOf(c ModbusChannel) byte {
	if c.Unit != 0 {
		return c.Unit
	}
	return m.Unit
}

// EchoMode says whether a half-duplex adapter gives back what was sent.
type EchoMode uint8

// The echo modes.
const (
	EchoAuto EchoMode = iota // an exact copy of the request is taken for an echo
	EchoOff
	EchoOn
)

// RegisterType is how registers hold a number.
type RegisterType uint8

// The register types. Bits come from functions 01 and 02, the rest from 03 and 04.
const (
	RegisterUint16 RegisterType = iota
	RegisterInt16
	RegisterUint32
	RegisterInt32
	RegisterFloat32
	RegisterBit
)

// ModbusChannel is a channel and the registers that hold it.
type ModbusChannel struct {
	Channel
	Unit     byte   // 1..247; 0 means the port's
	Function byte   // 1, 2, 3 or 4
	Address  uint16 // counted from 0, as on the wire
	Type     RegisterType
	// LowWordFirst tells the order of the two words of a 32-bit number; bytes
	// within a word are always high first.
	LowWordFirst bool
}
