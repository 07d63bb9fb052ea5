package simbench

import (
	"bytes"
	"encoding/csv"
	"encoding/hex"
	"os"
	"strings"
	"testing"
	"time"

	"simmerline/sensors"
	"simmerline/sensors/modbus"
)

// sight is a world that stands still.
func sight(v view) lookup { return func(time.Duration) view { return v } }

// good is a view of a bench where everything works.
func good() view { return NewWorld(1, yard, Start{}).kept[0] }

// reference gives the frames of testdata/reference/modbus_rtu.csv by note. The
// rows come from V1.1b3 section 6 and from public documents and test suites;
// all of kind frame were checked by CRC.
func reference(t *testing.T, kind string) map[string][]byte {
	t.Helper()
	file, err := os.Open("../../testdata/reference/modbus_rtu.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	r := csv.NewReader(file)
	r.Comment, r.FieldsPerRecord = '#', 5
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	frames := map[string][]byte{}
	for _, row := range rows {
		if row[0] == kind {
			frame, err := hex.DecodeString(strings.ReplaceAll(row[2], " ", ""))
			if err != nil {
				t.Fatal(err)
			}
			frames[row[1]+"|"+row[2]] = frame
		}
	}
	return frames
}

func frame(t *testing.T, frames map[string][]byte, name string) []byte {
	t.Helper()
	for key, f := range frames {
		if strings.HasPrefix(key, name+"|") {
			return f
		}
	}
	t.Fatalf("no frame %q in the reference", name)
	return nil
}

// ask gives what a slave answers to bytes.
func ask(s *slave, sent []byte) []byte {
	s.Receive(0, sent)
	return bytes.Clone(s.Due(time.Second))
}

func TestTheSlaveAnswersAsTheReferenceFrames(t *testing.T) {
	frames := reference(t, "frame")
	holding := make([]uint16, 110)
	holding[107], holding[108], holding[109] = 555, 0, 100
	registers := make([]uint16, 9)
	registers[8] = 10
	held := func(uint64, *view, time.Duration) tables { return tables{holding: holding, registers: registers} }
	for _, c := range []struct {
		unit          byte
		request, want string
	}{
		{17, "fc03 request unit 17 addr 107 qty 3", "fc03 response unit 17 values 555 0 100"},
		{1, "fc03 request unit 1 same PDU", "fc03 response unit 1 same PDU"},
		{1, "fc04 request unit 1", "fc04 response unit 1"},
	} {
		s := newSlave(portHead, 1, sight(good()), c.unit, held)
		if got, want := ask(s, frame(t, frames, c.request)), frame(t, frames, c.want); !bytes.Equal(got, want) {
			t.Errorf("%s: answered % X, want % X", c.request, got, want)
		}
	}
	short := newSlave(portHead, 1, sight(good()), 1, func(uint64, *view, time.Duration) tables { return tables{holding: holding[:5]} })
	if got, want := ask(short, frame(t, frames, "fc03 request unit 1 same PDU")), frame(t, frames, "exception unit 1 fc03 code 2"); !bytes.Equal(got, want) {
		t.Errorf("an address that is not there: % X, want % X", got, want)
	}
	for name, f := range reference(t, "bad_frame") {
		s := newSlave(portHead, 1, sight(good()), 1, held)
		if got := ask(s, f); len(got) > 0 {
			t.Errorf("%s: answered % X", name, got)
		}
	}
}

func TestTheSlaveRefusesInTheWordsOfTheProtocol(t *testing.T) {
	s := newSlave(portHead, 1, sight(good()), 17, fumeHeadTables)
	for name, c := range map[string]struct {
		pdu, want []byte
	}{
		"coils it does not have": {[]byte{17, 1, 0, 0, 0, 1}, []byte{17, 0x81, 2}},
		"one input too many":     {[]byte{17, 2, 0, 0, 0, 2}, []byte{17, 0x82, 2}},
		"no registers at all":    {[]byte{17, 4, 0, 0, 0, 0}, []byte{17, 0x84, 3}},
		"too many registers":     {[]byte{17, 4, 0, 0, 0, 126}, []byte{17, 0x84, 3}},
		"past the end":           {[]byte{17, 4, 0, 3, 0, 2}, []byte{17, 0x84, 2}},
		"a write":                {[]byte{17, 6, 0, 0, 0, 1}, []byte{17, 0x86, 1}},
		"a long write":           {[]byte{17, 16, 0, 1, 0, 1, 2, 0, 10}, []byte{17, 0x90, 1}},
		"another unit":           {[]byte{18, 4, 0, 0, 0, 1}, nil},
		"everybody":              {[]byte{0, 4, 0, 0, 0, 1}, nil},
	} {
		want := c.want
		if want != nil {
			want = sealed(want)
		}
		if got := ask(s, sealed(c.pdu)); !bytes.Equal(got, want) {
			t.Errorf("%s: % X, want % X", name, got, want)
		}
	}
}

func TestTheSlaveFindsTheNextRequestAfterNoise(t *testing.T) {
	s := newSlave(portHead, 1, sight(good()), 17, fumeHeadTables)
	request := modbus.Request{Unit: 17, Function: 2, Address: 0, Count: 1}.AppendFrame(nil)
	for _, noise := range [][]byte{{0x11}, {0x11, 0x04, 0x00}, bytes.Repeat([]byte{0xA5}, 300), request[:7]} {
		s.Receive(0, noise)
		s.Receive(0, request)
		s.Receive(0, request) // the first may be lost in a frame that the noise began
		got := s.Due(time.Second)
		if reply, ok := bytes.CutPrefix(got, []byte{17, 2, 1, 1}); !ok || modbus.CRC(got[:6]) != 0 {
			t.Errorf("after % X: % X", noise, reply)
		}
	}
}

func FuzzSlaveReceive(f *testing.F) {
	f.Add([]byte{17, 4, 0, 0, 0, 3, 0xB3, 0x5B})
	f.Add([]byte{17, 16, 0, 1, 0, 1})
	f.Fuzz(func(t *testing.T, sent []byte) {
		s := newSlave(portHead, 1, sight(good()), 17, fumeHeadTables)
		for len(sent) > 0 {
			n := min(len(sent), 1+int(sent[0]%16))
			s.Receive(0, sent[:n])
			sent = sent[n:]
		}
		if len(s.heard) > modbus.MaxFrame {
			t.Errorf("%d bytes are kept", len(s.heard))
		}
		s.Due(time.Second)
	})
}

func TestTheBoardsPrintEachSecond(t *testing.T) {
	for port, want := range map[int]string{portWire: "t1=20.94 t2=20.62*", portBoard: "31.25,18.75*"} {
		d := newDevice(port, 1, sight(settled()))
		if first := string(d.Due(time.Second)); len(first) != len(want)+4 || !strings.HasSuffix(first, "\r\n") {
			t.Errorf("port %d prints %q, which is not of the form %q", port, first, want)
		}
		if got := strings.Count(string(d.Due(11*time.Second)), "\n"); got != 10 {
			t.Errorf("port %d printed %d lines in ten seconds", port, got)
		}
		if at, ok := d.Next(); !ok || at <= 11*time.Second || at > 12*time.Second {
			t.Errorf("port %d prints next at %v", port, at)
		}
	}
}

// settled is a good view some time after power-up.
func settled() view {
	w := NewWorld(1, yard, Start{})
	w.Advance(10 * time.Second)
	return *w.at(w.Now())
}

func TestADigitalProbeSaysWhatItCan(t *testing.T) {
	hot, fresh, out, scorched := settled(), good(), settled(), settled()
	out.probes[probeHot].in = false
	scorched.probes[probeHot].celsius = 140
	for name, c := range map[string]struct {
		v    view
		want string
	}{
		"just powered": {fresh, "t1=85.00 t2=85.00"},
		"pulled out":   {out, "t1=nan t2="},
		"too hot":      {scorched, "t1=nan t2="},
		"at work":      {hot, "t1=2"},
	} {
		if got := bathWireLine(1, &c.v, time.Minute); !strings.HasPrefix(got, c.want) {
			t.Errorf("%s: %q", name, got)
		}
	}
}

// More gas than a cell can measure must arrive as over range, not as a number.
func TestMoreGasThanACellCanMeasureIsOverRange(t *testing.T) {
	w := NewWorld(1, yard, Start{FanOff: true})
	w.Advance(5 * time.Minute)
	w.air.ppm = [gasCount]float64{400, 80, 400}
	w.Advance(w.Now() + 2*time.Minute)
	registers := fumeHeadTables(1, w.at(w.Now()), w.Now()).registers
	for i, c := range configs(t)[portHead].Modbus.Channels[:gasCount] {
		r := c.Convert(0, float64(int16(registers[i])))
		if r.Reason != sensors.ReasonOverRange || r.Value.Known() {
			t.Errorf("%s: %v, %v, %v from %d", c.Name, r.Value, r.Quality, r.Reason, int16(registers[i]))
		}
	}
}

func TestWireFaultsSpoilWhatTheySay(t *testing.T) {
	sent := bytes.Repeat([]byte("t1=68.44 t2=21.31*00\r\n"), 500)
	carried := func(f WireFaults) []byte {
		w := newWire(9, portWire)
		return w.carry(nil, sent, f)
	}
	if !bytes.Equal(carried(WireFaults{}), sent) {
		t.Error("a good wire changes bytes")
	}
	flipped, differ := carried(WireFaults{Flip: 0.1}), 0
	for i := range flipped {
		if flipped[i] != sent[i] {
			differ++
		}
	}
	if share := float64(differ) / float64(len(sent)); len(flipped) != len(sent) || share < 0.08 || share > 0.12 {
		t.Errorf("a tenth was to be flipped, %.3f was", share)
	}
	if share := 1 - float64(len(carried(WireFaults{Drop: 0.1})))/float64(len(sent)); share < 0.08 || share > 0.12 {
		t.Errorf("a tenth was to be lost, %.3f was", share)
	}
	if share := float64(len(carried(WireFaults{Double: 0.1})))/float64(len(sent)) - 1; share < 0.08 || share > 0.12 {
		t.Errorf("a tenth was to be doubled, %.3f was", share)
	}
	if !bytes.Equal(carried(WireFaults{Flip: 0.1}), flipped) {
		t.Error("the same wire spoils differently")
	}
}
