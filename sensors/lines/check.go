package lines

import (
	"bytes"
	"errors"
	"unicode/utf8"

	"simmerline/sensors"
)

// The ways a line is refused as a whole.
var (
	errBadChecksum = errors.New("lines: the check at the end of the line does not fit")
	errMalformed   = errors.New("lines: not a line of this format")
	errNotMapped   = errors.New("lines: the line names nothing in the bench file")
)

// checked takes the "*hh" off a line, as the port's check asks, and says
// whether it fits.
func checked(line []byte, check sensors.LineCheck) ([]byte, error) {
	if check == sensors.LineUnchecked {
		return line, nil
	}
	star := bytes.LastIndexByte(line, '*')
	if star < 0 {
		if check == sensors.LineXORRequired {
			return nil, errBadChecksum
		}
		return line, nil
	}
	if star != len(line)-3 {
		return nil, errBadChecksum
	}
	high, okHigh := hexDigit(line[star+1])
	low, okLow := hexDigit(line[star+2])
	if !okHigh || !okLow || XOR(line[:star]) != high<<4|low {
		return nil, errBadChecksum
	}
	return line[:star], nil
}

// XOR is the check of a line: all its bytes before the "*", exclusive-or.
func XOR(text []byte) byte {
	var sum byte
	for _, b := range text {
		sum ^= b
	}
	return sum
}

func hexDigit(b byte) (byte, bool) {
	switch {
	case b >= '0' && b <= '9':
		return b - '0', true
	case b >= 'A' && b <= 'F':
		return b - 'A' + 10, true
	case b >= 'a' && b <= 'f':
		return b - 'a' + 10, true
	default:
		return 0, false
	}
}

// isPlainText says that a line holds nothing but printable UTF-8 and tabs.
func isPlainText(line []byte) bool {
	for _, b := range line {
		if b < ' ' && b != '\t' || b == 0x7F {
			return false
		}
	}
	return utf8.Valid(line)
}
