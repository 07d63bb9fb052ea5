package simbench

import (
	"encoding/binary"
	"time"

	"simmerline/sensors/modbus"
)

// answerAfter is how long a Modbus device takes to answer: short for an
// instrument, and far above the silence between frames.
const answerAfter = 6 * time.Millisecond

// tables is what a Modbus device holds at one moment, each table from address
// 0: the four that functions 01 to 04 read.
type tables struct {
	coils, inputs      []bool
	holding, registers []uint16
}

// slave is a Modbus RTU device as in the application protocol V1.1b3, for the
// reading functions 01 to 04. It answers only to its own unit; a broadcast and
// a frame whose CRC does not fit it passes over in silence, as it must.
type slave struct {
	look lookup
	seed uint64
	port int
	unit byte
	hold func(seed uint64, v *view, at time.Duration) tables
	wire wire

	heard []byte
	reply []byte
	at    time.Duration // when the reply leaves
	out   []byte
}

func newSlave(port int, seed uint64, look lookup, unit byte, hold func(uint64, *view, time.Duration) tables) *slave {
	return &slave{look: look, seed: seed, port: port, unit: unit, hold: hold, wire: newWire(seed, port)}
}

func (s *slave) Receive(now time.Duration, sent []byte) {
	v := s.look(now)
	condition := &v.ports[s.port]
	if condition.unplugged {
		return
	}
	if condition.faults.Echo {
		s.answer(now, sent)
	}
	if !v.power || condition.mute {
		s.heard = s.heard[:0]
		return
	}
	s.heard = append(s.heard, sent...)
	for {
		frame, rest := findRequest(s.heard)
		if frame == nil {
			break
		}
		if frame[0] == s.unit {
			s.answer(now+answerAfter, answer(frame, s.hold(s.seed, &v, now)))
		}
		s.heard = rest
	}
	if spare := len(s.heard) - modbus.MaxFrame; spare > 0 {
		s.heard = s.heard[spare:] // no frame is longer
	}
	s.heard = append([]byte(nil), s.heard...)
}

func (s *slave) answer(at time.Duration, bytes []byte) {
	s.reply, s.at = append(s.reply, bytes...), at
}

func (s *slave) Next() (time.Duration, bool) { return s.at, len(s.reply) > 0 }

func (s *slave) Due(now time.Duration) []byte {
	s.out = s.out[:0]
	if len(s.reply) == 0 || now < s.at {
		return nil
	}
	if v := s.look(now); !v.ports[s.port].unplugged {
		s.out = s.wire.carry(s.out, s.reply, v.ports[s.port].faults)
	}
	s.reply = s.reply[:0]
	return s.out
}

// findRequest finds the first whole request in what was heard, whatever noise
// stands before it, and what comes after; nil where there is none. Requests are
// told by their CRC and not by gaps, since a pseudo-terminal keeps no time. Those
// of functions 1 to 6 have eight bytes; others are only looked for where no such
// one is, since every length could be theirs.
func findRequest(heard []byte) (frame, rest []byte) {
	const shortest, usual = 4, 8
	for i := 0; i+usual <= len(heard); i++ {
		f := heard[i : i+usual]
		if f[1] >= 1 && f[1] <= 6 && modbus.CRC(f) == 0 {
			return f, heard[i+usual:]
		}
	}
	for n := shortest; n <= min(len(heard), modbus.MaxFrame); n++ {
		if f := heard[:n]; (f[1] == 0 || f[1] > 6) && modbus.CRC(f) == 0 {
			return f, heard[n:]
		}
	}
	return nil, nil
}

// The exceptions of V1.1b3 section 7 that this device gives.
const (
	illegalFunction = 1
	illegalAddress  = 2
	illegalValue    = 3
)

// answer is the reply to a whole request, CRC included.
func answer(frame []byte, t tables) []byte {
	unit, function := frame[0], frame[1]
	if function < 1 || function > 4 {
		return refusal(unit, function, illegalFunction)
	}
	address := int(binary.BigEndian.Uint16(frame[2:]))
	count := int(binary.BigEndian.Uint16(frame[4:]))
	out := []byte{unit, function}
	if function <= 2 {
		bits := t.coils
		if function == 2 {
			bits = t.inputs
		}
		switch {
		case count < 1 || count > modbus.MaxBits:
			return refusal(unit, function, illegalValue)
		case address+count > len(bits):
			return refusal(unit, function, illegalAddress)
		}
		packed := make([]byte, (count+7)/8)
		for i, bit := range bits[address : address+count] {
			if bit {
				packed[i/8] |= 1 << (i % 8)
			}
		}
		out = append(append(out, byte(len(packed))), packed...)
		return sealed(out)
	}
	words := t.holding
	if function == 4 {
		words = t.registers
	}
	switch {
	case count < 1 || count > modbus.MaxRegisters:
		return refusal(unit, function, illegalValue)
	case address+count > len(words):
		return refusal(unit, function, illegalAddress)
	}
	out = append(out, byte(2*count))
	for _, word := range words[address : address+count] {
		out = binary.BigEndian.AppendUint16(out, word)
	}
	return sealed(out)
}

func refusal(unit, function, code byte) []byte { return sealed([]byte{unit, function | 0x80, code}) }

func sealed(frame []byte) []byte {
	return binary.LittleEndian.AppendUint16(frame, modbus.CRC(frame))
}
