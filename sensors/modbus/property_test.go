package modbus

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"simmerline/sensors"
	"simmerline/sensors/sensorstest"
)

// encode is the way of a number into registers, the obvious way round.
func encode(number float64, as sensors.RegisterType, lowWordFirst bool) []byte {
	var p []byte
	switch as {
	case sensors.RegisterUint16:
		return binary.BigEndian.AppendUint16(nil, uint16(number))
	case sensors.RegisterInt16:
		return binary.BigEndian.AppendUint16(nil, uint16(int16(number)))
	case sensors.RegisterUint32:
		p = binary.BigEndian.AppendUint32(nil, uint32(number))
	case sensors.RegisterInt32:
		p = binary.BigEndian.AppendUint32(nil, uint32(int32(number)))
	case sensors.RegisterFloat32:
		p = binary.BigEndian.AppendUint32(nil, math.Float32bits(float32(number)))
	}
	if lowWordFirst {
		return []byte{p[2], p[3], p[0], p[1]}
	}
	return p
}

func TestNumbersRoundTrip(t *testing.T) {
	ranges := map[sensors.RegisterType]*rapid.Generator[float64]{
		sensors.RegisterUint16:  rapid.Map(rapid.Uint16(), func(n uint16) float64 { return float64(n) }),
		sensors.RegisterInt16:   rapid.Map(rapid.Int16(), func(n int16) float64 { return float64(n) }),
		sensors.RegisterUint32:  rapid.Map(rapid.Uint32(), func(n uint32) float64 { return float64(n) }),
		sensors.RegisterInt32:   rapid.Map(rapid.Int32(), func(n int32) float64 { return float64(n) }),
		sensors.RegisterFloat32: rapid.Map(rapid.Float32(), func(n float32) float64 { return float64(n) }),
	}
	rapid.Check(t, func(t *rapid.T) {
		as := sensors.RegisterType(rapid.IntRange(0, int(sensors.RegisterFloat32)).Draw(t, "type"))
		low := rapid.Bool().Draw(t, "low word first")
		before := rapid.SliceOfN(rapid.Byte(), 0, 20).Draw(t, "before")
		before = before[:len(before)/2*2]
		want := ranges[as].Draw(t, "number")
		data := append(before, encode(want, as, low)...)
		got, ok := Number(data, len(before)/2, as, low)
		if !ok || got != want {
			t.Errorf("type %d, low word first %v: % X is %v, %v, want %v", as, low, data, got, ok, want)
		}
		if _, ok := Number(data[:len(data)-1], len(before)/2, as, low); ok {
			t.Errorf("a number that is cut off is taken")
		}
	})
}

func TestBits(t *testing.T) {
	// V1.1b3 section 6.1 packs the first bit into the lowest of the first byte.
	data := []byte{0xCD, 0x6B, 0x05}
	text := ""
	for i := range 19 {
		bit, ok := Number(data, i, sensors.RegisterBit, false)
		if !ok {
			t.Fatalf("bit %d is missing", i)
		}
		text += string('0' + rune(bit))
	}
	if want := "1011001111010110101"; text != want {
		t.Errorf("bits %s, want %s", text, want)
	}
	for _, place := range []int{-1, 24} {
		if _, ok := Number(data, place, sensors.RegisterBit, false); ok {
			t.Errorf("bit %d is taken from three bytes", place)
		}
	}
}

// What a 16-bit CRC of this polynomial can promise: it finds every one, two and
// three flipped bits in a frame of this length, since those are fewer than its
// distance, and every burst of up to 16 bits. More flips may slip through once
// in about 65,536.
func TestFewFlippedBitsAreAlwaysFound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		request := Request{Unit: byte(rapid.IntRange(1, 247).Draw(t, "unit")), Function: 4,
			Address: rapid.Uint16().Draw(t, "address"), Count: uint16(rapid.IntRange(1, 125).Draw(t, "count"))}
		data := rapid.SliceOfN(rapid.Byte(), request.dataBytes(), request.dataBytes()).Draw(t, "data")
		frame := sealReply(request, data)
		damaged := sensorstest.FlipBits(rapid.Uint64().Draw(t, "seed"), frame, rapid.IntRange(1, 3).Draw(t, "flips"))
		if got, err := request.ParseReply(damaged); err == nil {
			t.Errorf("% X damaged to % X is taken as % X", frame, damaged, got)
		}
		burst := bytes.Clone(frame)
		pattern := uint32(rapid.Uint16Min(1).Draw(t, "pattern"))
		start := rapid.IntRange(0, 8*len(frame)-16).Draw(t, "start")
		for i := range 16 {
			burst[(start+i)/8] ^= byte(pattern>>i&1) << ((start + i) % 8)
		}
		if got, err := request.ParseReply(burst); err == nil {
			t.Errorf("% X with a burst % X is taken as % X", frame, burst, got)
		}
	})
}

// The share of heavily damaged frames that slip through is what the width of
// the CRC allows, and no more: of 200,000 about 3, and 20 never.
func TestManyFlippedBitsSlipThroughAsSeldomAsTheCRCAllows(t *testing.T) {
	frame := sealReply(hotRequest, []byte{0x02, 0xAC})
	passed := 0
	for seed := range uint64(200_000) {
		damaged := sensorstest.FlipBits(seed, frame[headerLength:], 4+int(seed%20))
		whole := append(bytes.Clone(frame[:headerLength]), damaged...)
		if _, err := hotRequest.ParseReply(whole); err == nil {
			passed++
		}
	}
	if passed > 20 {
		t.Errorf("%d of 200000 damaged frames were taken", passed)
	}
}

// Whatever a wire does to a good answer, the driver gives the true value or
// none, unless the damage beats the CRC, which these seeds don't.
func TestDamagedWireGivesTheTrueValueOrNone(t *testing.T) {
	damages := []func(seed uint64, p []byte, n int) []byte{
		sensorstest.FlipBits, sensorstest.Drop, sensorstest.Duplicate,
		func(seed uint64, p []byte, n int) []byte {
			return append(bytes.Clone(p), sensorstest.Noise(seed, n)...)
		},
		func(seed uint64, p []byte, n int) []byte { return append(sensorstest.Noise(seed, n), p...) },
	}
	read := 0
	for seed := range uint64(3000) {
		damage := damages[seed%uint64(len(damages))]
		echo := sensors.EchoMode(seed % 3)
		good := hot684
		if echo != sensors.EchoOff {
			good = sensorstest.Echo(hotAsked, hot684)
		}
		link := &worn{answer: damage(seed, good, 1+int(seed%7)), then: good}
		heard := exchange(t, driver(t, hotConfig(echo)), link)
		for _, r := range heard.Readings {
			read++
			if r.Raw != 684 {
				t.Errorf("seed %d: % X became %v", seed, link.answer, r)
			}
		}
	}
	if read < 2500 {
		t.Errorf("%d of 3000 were read in the end; a second question must mend most", read)
	}
}

// worn answers the first question with damage and the rest well.
type worn struct {
	answer, then []byte
	deaf
}

func (l *worn) Write([]byte) error {
	l.pending, l.answer = l.answer, l.then
	return nil
}

func FuzzReply(f *testing.F) {
	f.Add(byte(17), byte(3), uint16(107), uint16(3), []byte{0x11, 3, 6, 2, 0x2B, 0, 0, 0, 0x64, 0xC8, 0xBA})
	f.Add(byte(1), byte(3), uint16(107), uint16(3), []byte{1, 0x83, 2, 0xC0, 0xF1})
	f.Add(byte(1), byte(4), uint16(8), uint16(1), []byte{1, 4, 2, 0xFF, 0x9C, 0xF8, 0xA9})
	f.Add(byte(1), byte(1), uint16(0), uint16(19), seal([]byte{1, 1, 3, 0xCD, 0x6B, 5}))
	for _, event := range sensorstest.Load(f, "../../testdata/serial/modbus_fume_head.rec") {
		if event.Kind == sensorstest.Arrived {
			f.Add(byte(17), byte(4), uint16(20), uint16(6), event.Bytes)
		}
	}
	f.Fuzz(func(t *testing.T, unit, function byte, address, count uint16, frame []byte) {
		request := Request{Unit: unit, Function: function, Address: address, Count: count}
		if request.Validate() != nil {
			t.Skip()
		}
		data, err := request.ParseReply(frame)
		var e Exception
		var again []byte
		switch {
		case err == nil:
			again = sealReply(request, data)
		case errors.As(err, &e):
			again = refusal(request, byte(e))
		default:
			return
		}
		if CRC(frame) != 0 || !bytes.Equal(again, frame) {
			t.Errorf("% X was taken, and is % X when built again", frame, again)
		}
	})
}

// BenchmarkDecodeReply takes the frame of a fume head with three gases as
// floats from the wire to readings.
func BenchmarkDecodeReply(b *testing.B) {
	config := sensors.ModbusConfig{Unit: 9}
	for i, gas := range []sensors.Gas{sensors.HydrogenSulfide, sensors.SulfurDioxide, sensors.Ammonia} {
		config.Channels = append(config.Channels, sensors.ModbusChannel{
			Channel:  sensors.Channel{Name: gas.String(), Quantity: sensors.GasLevel, Gas: gas, Low: -1, High: 100},
			Function: 4, Address: uint16(2 * i), Type: sensors.RegisterFloat32,
		})
	}
	d, err := New(config)
	if err != nil {
		b.Fatal(err)
	}
	request := Request{Unit: 9, Function: 4, Count: 6}
	var data []byte
	for _, ppm := range []float64{0.42, 0.1, 4.5} {
		data = append(data, encode(ppm, sensors.RegisterFloat32, false)...)
	}
	frame := sealReply(request, data)
	var heard sensors.Exchanged
	b.ReportAllocs()
	readings := 0
	for b.Loop() {
		heard.Readings = heard.Readings[:0]
		found, err := request.ParseReply(frame)
		if err != nil {
			b.Fatal(err)
		}
		d.convert(&heard, d.units[0].spans[0], found, 0)
		readings += len(heard.Readings)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(readings), "ns/reading")
}
