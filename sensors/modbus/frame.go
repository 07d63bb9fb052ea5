package modbus

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// Limits of the protocol. The 125 registers and 2000 bits of a request are
// those of V1.1b3 sections 6.1 to 6.4; the 256 bytes of a frame those of serial
// line V1.02 section 2.5.1.
const (
	MaxRegisters = 125
	MaxBits      = 2000
	MaxFrame     = 256
	MaxUnit      = 247

	requestLength   = 8
	shortestReply   = 5 // a refusal
	exceptionFlag   = 0x80
	headerLength    = 3 // unit, function, byte count
	crcLength       = 2
	firstFunction   = 1
	lastBitFunction = 2
	lastFunction    = 4
)

// The ways a frame can be no reply to a request.
var (
	// ErrIncomplete means that the frame ends before its own length.
	ErrIncomplete = errors.New("modbus: the frame is not complete")
	// ErrCRC means that the frame's check does not fit: bits were lost or
	// flipped on the way.
	ErrCRC = errors.New("modbus: the frame's CRC does not fit")
	// ErrWrongAnswer means that unit, function or byte count are not those that
	// were asked for.
	ErrWrongAnswer = errors.New("modbus: the frame answers another question")
)

// Request asks one device for a run of registers or bits.
type Request struct {
	Unit     byte   // 1..247
	Function byte   // 1..4
	Address  uint16 // the first, counted from 0
	Count    uint16 // 1..125 registers or 1..2000 bits
}

// bits says whether the request is for bits rather than registers.
func (r Request) bits() bool { return r.Function <= lastBitFunction }

// Validate says what is wrong with the request, or nil.
func (r Request) Validate() error {
	if r.Unit < 1 || r.Unit > MaxUnit {
		return fmt.Errorf("modbus: unit %d is not an address of a device; use 1 to %d", r.Unit, MaxUnit)
	}
	if r.Function < firstFunction || r.Function > lastFunction {
		return fmt.Errorf("modbus: function %d is not read here; use 1, 2, 3 or 4", r.Function)
	}
	most := MaxRegisters
	if r.bits() {
		most = MaxBits
	}
	if r.Count < 1 || int(r.Count) > most {
		return fmt.Errorf("modbus: function %d can't ask for %d at once; ask for 1 to %d", r.Function, r.Count, most)
	}
	if int(r.Address)+int(r.Count) > 1<<16 {
		return fmt.Errorf("modbus: %d from address %d runs past the last address, 65535", r.Count, r.Address)
	}
	return nil
}

// AppendFrame appends the request as it goes over the wire.
func (r Request) AppendFrame(to []byte) []byte {
	start := len(to)
	to = append(to, r.Unit, r.Function)
	to = binary.BigEndian.AppendUint16(to, r.Address)
	to = binary.BigEndian.AppendUint16(to, r.Count)
	return binary.LittleEndian.AppendUint16(to, CRC(to[start:]))
}

// dataBytes is the byte count that the reply must state.
func (r Request) dataBytes() int {
	if r.bits() {
		return (int(r.Count) + 7) / 8
	}
	return 2 * int(r.Count)
}

// ReplyLength says how many bytes the reply that begins with these bytes has,
// its CRC included. While they are too few to tell it gives the shortest reply
// there is, or an error as soon as they can't begin a reply to this request.
func (r Request) ReplyLength(begin []byte) (int, error) {
	if len(begin) > 0 && begin[0] != r.Unit {
		return 0, fmt.Errorf("%w: unit %d instead of %d", ErrWrongAnswer, begin[0], r.Unit)
	}
	if len(begin) < 2 {
		return shortestReply, nil
	}
	if begin[1] == r.Function|exceptionFlag {
		return shortestReply, nil
	}
	if begin[1] != r.Function {
		return 0, fmt.Errorf("%w: function %d instead of %d", ErrWrongAnswer, begin[1], r.Function)
	}
	if len(begin) < headerLength {
		return shortestReply, nil
	}
	if int(begin[2]) != r.dataBytes() {
		return 0, fmt.Errorf("%w: %d bytes of data instead of %d", ErrWrongAnswer, begin[2], r.dataBytes())
	}
	return headerLength + r.dataBytes() + crcLength, nil
}

// ParseReply takes the data out of a whole reply to this request. The data
// shares the frame's memory. Its error is ErrIncomplete, ErrCRC, ErrWrongAnswer
// or, where the device refuses, an Exception.
func (r Request) ParseReply(frame []byte) ([]byte, error) {
	length, err := r.ReplyLength(frame)
	switch {
	case err != nil:
		return nil, err
	case len(frame) < length:
		return nil, ErrIncomplete
	case len(frame) > length:
		return nil, fmt.Errorf("%w: %d bytes instead of %d", ErrWrongAnswer, len(frame), length)
	case CRC(frame) != 0:
		return nil, ErrCRC
	case frame[1]&exceptionFlag != 0:
		return nil, Exception(frame[2])
	}
	return frame[headerLength : length-crcLength], nil
}

// CRC is the check of a frame: polynomial 8005h reflected to A001h, begun at
// FFFFh, sent low byte first (serial line V1.02 section 6.2.2). Over a good
// frame with its CRC it is zero.
func CRC(frame []byte) uint16 {
	crc := uint16(0xFFFF)
	for _, b := range frame {
		crc ^= uint16(b)
		for range 8 {
			carry := crc & 1
			crc >>= 1
			if carry != 0 {
				crc ^= 0xA001
			}
		}
	}
	return crc
}
