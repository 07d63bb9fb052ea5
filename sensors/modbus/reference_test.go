package modbus

import (
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"testing"

	"simmerline/sensors"

	"simmerline/sensors/sensorstest"
)

// The rows of testdata/reference/modbus_rtu.csv; its header names the source:
// Modbus Application Protocol V1.1b3 and Modbus over Serial Line V1.02. Rows
// marked "memory" there are leads; where the CRC of such a row is checked, it
// is the calculation that proves it.
type row struct{ kind, name, value, note, verified string }

func referenceRows(t *testing.T) []row {
	t.Helper()
	_, records := sensorstest.Reference(t, "../../testdata/reference/modbus_rtu.csv")
	var rows []row
	for _, r := range records {
		rows = append(rows, row{r[0], r[1], r[2], r[3], r[4]})
	}
	return rows
}

func unhex(t *testing.T, text string) []byte {
	t.Helper()
	p, err := hex.DecodeString(strings.ReplaceAll(text, " ", ""))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The requests and replies that the reference frames stand for, by row name.
var (
	unit17 = Request{Unit: 17, Function: 3, Address: 0x6B, Count: 3}
	unit1  = Request{Unit: 1, Function: 3, Address: 0x6B, Count: 3}
	input8 = Request{Unit: 1, Function: 4, Address: 8, Count: 1}
)

func TestReferenceFrames(t *testing.T) {
	requests := map[string]Request{
		"fc03 request unit 17 addr 107 qty 3": unit17,
		"fc03 request unit 1 same PDU":        unit1,
		"fc03 request unit 1 addr 0 qty 2":    {Unit: 1, Function: 3, Count: 2},
		"fc04 request unit 1":                 input8,
	}
	type reply struct {
		to      Request
		as      sensors.RegisterType
		low     bool
		numbers []float64
		refusal Exception
	}
	replies := map[string]reply{
		"fc03 response unit 17 values 555 0 100": {to: unit17, numbers: []float64{555, 0, 100}},
		"fc03 response unit 1 same PDU":          {to: unit1, numbers: []float64{555, 0, 100}},
		"fc03 response one register 100":         {to: Request{Unit: 1, Function: 3, Count: 1}, numbers: []float64{100}},
		"fc04 response unit 1":                   {to: input8, numbers: []float64{10}},
		"exception unit 1 fc03 code 2":           {to: unit1, refusal: 2},
		"exception unit 17 fc04 code 4":          {to: Request{Unit: 17, Function: 4, Count: 1}, refusal: 4},
		"negative value -10.0 C as tenths":       {to: input8, as: sensors.RegisterInt16, numbers: []float64{-100}},
		"float32 25.0 high word first": {to: Request{Unit: 1, Function: 4, Count: 2},
			as: sensors.RegisterFloat32, numbers: []float64{25}},
		"float32 25.0 low word first": {to: Request{Unit: 1, Function: 4, Count: 2},
			as: sensors.RegisterFloat32, low: true, numbers: []float64{25}},
	}
	used := 0
	for _, r := range referenceRows(t) {
		if r.kind != "frame" {
			continue
		}
		frame := unhex(t, r.value)
		if CRC(frame) != 0 {
			t.Errorf("%s: CRC over the whole frame is %04X, want 0", r.name, CRC(frame))
		}
		if request, ok := requests[r.name]; ok {
			used++
			if got := request.AppendFrame(nil); !bytes.Equal(got, frame) {
				t.Errorf("%s: built % X, want % X", r.name, got, frame)
			}
		} else if want, ok := replies[r.name]; ok {
			used++
			data, err := want.to.ParseReply(frame)
			if want.refusal != 0 {
				if err != want.refusal {
					t.Errorf("%s: error %v, want %v", r.name, err, want.refusal)
				}
				continue
			}
			if err != nil {
				t.Errorf("%s: %v", r.name, err)
			}
			for i, number := range want.numbers {
				if got, ok := Number(data, i, want.as, want.low); !ok || got != number {
					t.Errorf("%s: number %d is %v, %v, want %v", r.name, i, got, ok, number)
				}
			}
		} else if r.name != "fc16 request unit 17 addr 1" { // nothing is written here: its CRC only
			t.Errorf("%s: no test looks at this row", r.name)
		}
	}
	if used != len(requests)+len(replies) {
		t.Errorf("%d of %d expected rows are in the reference", used, len(requests)+len(replies))
	}
}

func TestReferencePDUs(t *testing.T) {
	used := 0
	framed := func(unit byte, pdu []byte) []byte { return seal(append([]byte{unit}, pdu...)) }
	for _, r := range referenceRows(t) {
		if r.kind != "pdu" {
			continue
		}
		used++
		pdu := unhex(t, r.value)
		switch r.name {
		case "fc03 request (V1.1b3 sec 6.3)":
			if got := unit1.AppendFrame(nil); !bytes.Equal(got[1:6], pdu) {
				t.Errorf("%s: built % X", r.name, got)
			}
		case "fc04 request (sec 6.4)":
			if got := input8.AppendFrame(nil); !bytes.Equal(got[1:6], pdu) {
				t.Errorf("%s: built % X", r.name, got)
			}
		case "fc03 response", "fc04 response":
			to := unit1
			if pdu[0] == 4 {
				to = input8
			}
			if data, err := to.ParseReply(framed(1, pdu)); err != nil || !bytes.Equal(data, pdu[2:]) {
				t.Errorf("%s: % X, %v", r.name, data, err)
			}
		case "exception response", "exception response fc04":
			to := unit1
			if pdu[0] == 0x84 {
				to = input8
			}
			if _, err := to.ParseReply(framed(1, pdu)); err != Exception(pdu[1]) {
				t.Errorf("%s: %v", r.name, err)
			}
		default:
			t.Errorf("%s: no test looks at this row", r.name)
		}
	}
	if used == 0 {
		t.Error("no PDUs in the reference")
	}
}

func TestReferenceBadFramesAreRefused(t *testing.T) {
	used := 0
	for _, r := range referenceRows(t) {
		if r.kind != "bad_frame" {
			continue
		}
		used++
		frame := unhex(t, r.value)
		if CRC(frame) == 0 {
			t.Errorf("% X: CRC fits, and must not", frame)
		}
		for _, to := range []Request{unit1, {Unit: 1, Function: 3, Count: 5}, {Unit: 1, Function: 3, Address: 1, Count: 1}} {
			if data, err := to.ParseReply(frame); err == nil {
				t.Errorf("% X: taken as % X", frame, data)
			}
		}
	}
	if _, err := unit1.ParseReply(unhex(t, "01 03 06 02 2B 00 00 00 64 39 80")); !errors.Is(err, ErrCRC) {
		t.Errorf("the reply with a wrong CRC gives %v, want %v", err, ErrCRC)
	}
	// The note of the last row: with its right CRC the request is ours.
	right := Request{Unit: 1, Function: 3, Count: 5}.AppendFrame(nil)
	if want := unhex(t, "01 03 00 00 00 05 85 C9"); !bytes.Equal(right, want) {
		t.Errorf("built % X, want % X", right, want)
	}
	if used != 3 {
		t.Errorf("%d bad frames in the reference, want 3", used)
	}
}

func TestReferenceCRC(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range referenceRows(t) {
		seen[r.name] = true
		switch r.name {
		case "check string 123456789":
			if got := fmt.Sprintf("%04X", CRC([]byte("123456789"))); got != r.value {
				t.Errorf("CRC of the check string is %s, want %s", got, r.value)
			}
		case "serial line guide CRC example":
			frame := unhex(t, r.value)
			if got := CRC(frame[:2]); got != 0x1241 || CRC(frame) != 0 {
				t.Errorf("CRC of % X is %04X, want 1241", frame[:2], got)
			}
		case "polynomial":
			if got := slowCRC(t, r.value, []byte("123456789")); got != CRC([]byte("123456789")) {
				t.Errorf("CRC by %s is %04X, ours %04X", r.value, got, CRC([]byte("123456789")))
			}
		}
	}
	for _, name := range []string{"check string 123456789", "serial line guide CRC example", "polynomial"} {
		if !seen[name] {
			t.Errorf("the reference has no row %q", name)
		}
	}
}

// slowCRC divides bit by bit as the guide words it, with the polynomial given
// as hex digits.
func slowCRC(t *testing.T, polynomial string, p []byte) uint16 {
	t.Helper()
	by, err := strconv.ParseUint(polynomial, 16, 16)
	if err != nil {
		t.Fatal(err)
	}
	register := uint16(0xFFFF)
	for bit := range 8 * len(p) {
		in := uint16(p[bit/8]>>(bit%8)) & 1
		out := register&1 ^ in
		if register >>= 1; out != 0 {
			register ^= uint16(by)
		}
	}
	return register
}

// Codes 03 and above are marked "memory" in the reference: the words agree with
// it, which proves no more than that.
func TestReferenceExceptionsAndLimits(t *testing.T) {
	codes := 0
	for _, r := range referenceRows(t) {
		switch {
		case r.kind == "exception_code":
			codes++
			code, err := strconv.ParseUint(r.name, 16, 8)
			if err != nil {
				t.Fatal(err)
			}
			e := Exception(code)
			if !strings.HasPrefix(e.Meaning(), r.value) || !strings.Contains(e.Error(), r.name) {
				t.Errorf("exception %s says %q (%v), want %q", r.name, e.Meaning(), e, r.value)
			}
		case r.name == "unit address" && r.value != fmt.Sprintf("1..%d", MaxUnit),
			r.name == "quantity fc03/fc04" && r.value != fmt.Sprintf("1..%d", MaxRegisters),
			r.name == "RTU frame" && !strings.HasSuffix(r.value, fmt.Sprintf("..%d bytes", MaxFrame)):
			t.Errorf("%s is %s in the reference, which is not our limit", r.name, r.value)
		}
	}
	if codes != 9 {
		t.Errorf("%d exception codes in the reference, want 9", codes)
	}
	for _, test := range []struct {
		request Request
		ok      bool
	}{
		{Request{Unit: 1, Function: 3, Count: 125}, true},
		{Request{Unit: 247, Function: 4, Address: 65535, Count: 1}, true},
		{Request{Unit: 1, Function: 1, Count: 2000}, true},
		{Request{Unit: 0, Function: 3, Count: 1}, false},
		{Request{Unit: 248, Function: 3, Count: 1}, false},
		{Request{Unit: 1, Function: 3, Count: 126}, false},
		{Request{Unit: 1, Function: 3, Count: 0}, false},
		{Request{Unit: 1, Function: 2, Count: 2001}, false},
		{Request{Unit: 1, Function: 5, Count: 1}, false},
		{Request{Unit: 1, Function: 0, Count: 1}, false},
		{Request{Unit: 1, Function: 3, Address: 65535, Count: 2}, false},
	} {
		if err := test.request.Validate(); (err == nil) != test.ok {
			t.Errorf("%+v: %v", test.request, err)
		}
		longest, err := test.request.ReplyLength([]byte{test.request.Unit, test.request.Function, byte(test.request.dataBytes())})
		if test.ok && (err != nil || longest > MaxFrame) {
			t.Errorf("%+v: reply of %d bytes, %v", test.request, longest, err)
		}
	}
}

// seal adds the CRC to a frame.
func seal(frame []byte) []byte {
	crc := CRC(frame)
	return append(frame, byte(crc), byte(crc>>8))
}

// sealReply builds the reply that carries this data, as a device would.
func sealReply(r Request, data []byte) []byte {
	return seal(append([]byte{r.Unit, r.Function, byte(len(data))}, data...))
}
