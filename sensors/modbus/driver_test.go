package modbus

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"simmerline/sensors"
	"simmerline/sensors/sensorstest"
)

const ms = time.Millisecond

// probe is a temperature channel at an input register, in tenths.
func probe(name string, address uint16) sensors.ModbusChannel {
	return sensors.ModbusChannel{
		Channel:  sensors.Channel{Name: name, Quantity: sensors.Temperature, Scale: 0.1, Low: -20, High: 150},
		Function: 4, Address: address, Type: sensors.RegisterInt16,
	}
}

// script builds a recording event by event, each so long after the last.
type script struct {
	events sensorstest.Recording
	at     time.Duration
}

func (s *script) asked(frame []byte) *script {
	s.events = append(s.events, sensorstest.Event{Kind: sensorstest.Written, At: s.at, Bytes: frame})
	return s
}

func (s *script) came(after time.Duration, frame []byte) *script {
	s.at += after
	s.events = append(s.events, sensorstest.Event{Kind: sensorstest.Arrived, At: s.at, Bytes: frame})
	return s
}

func (s *script) ended(after time.Duration, err error) *script {
	s.at += after
	s.events = append(s.events, sensorstest.Event{Kind: sensorstest.Ended, At: s.at, Err: err})
	return s
}

func (s *script) play(t *testing.T) *sensorstest.Playback {
	return sensorstest.NewPlayback(t, s.events)
}

func driver(t *testing.T, config sensors.ModbusConfig) *Driver {
	t.Helper()
	d, err := New(config)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// exchange does one and fails the test on a failure of the link.
func exchange(t *testing.T, d *Driver, link sensors.Link) sensors.Exchanged {
	t.Helper()
	heard, err := d.Exchange(link)
	if err != nil {
		t.Fatalf("exchange: %v", err)
	}
	return heard
}

// told puts readings in a line of text: name=value, or name=reason.
func told(readings []sensors.Reading) string {
	var words []string
	for _, r := range readings {
		if r.Quality == sensors.QualityGood {
			words = append(words, r.Channel+"="+r.Value.String())
		} else {
			words = append(words, r.Channel+"="+r.Reason.String())
		}
	}
	return strings.Join(words, ", ")
}

var (
	hotRequest = Request{Unit: 9, Function: 4, Address: 8, Count: 1}
	hotAsked   = hotRequest.AppendFrame(nil)
	hot684     = sealReply(hotRequest, []byte{0x02, 0xAC}) // 684 tenths
)

func hotConfig(echo sensors.EchoMode) sensors.ModbusConfig {
	return sensors.ModbusConfig{Unit: 9, Echo: echo, Channels: []sensors.ModbusChannel{probe("hot", 8)}}
}

func refusal(r Request, code byte) []byte { return seal([]byte{r.Unit, r.Function | 0x80, code}) }

// flipped is the frame with its last bit wrong.
func flipped(frame []byte) []byte {
	damaged := append([]byte(nil), frame...)
	damaged[len(damaged)-1] ^= 1
	return damaged
}

func TestOneQuestion(t *testing.T) {
	other := Request{Unit: 8, Function: 4, Address: 8, Count: 1}
	holding := Request{Unit: 9, Function: 3, Address: 8, Count: 1}
	wider := Request{Unit: 9, Function: 4, Address: 8, Count: 2}
	mangled := append(flipped(hotAsked), hot684...)
	echoed := sensorstest.Echo(hotAsked, hot684)
	for _, test := range []struct {
		name   string
		echo   sensors.EchoMode
		wire   *script
		want   string
		faults sensors.Faults
	}{
		{"answered", sensors.EchoAuto, new(script).asked(hotAsked).came(20*ms, hot684), "hot=68.4 °C", sensors.Faults{}},
		{"answered in two lumps with a long gap", sensors.EchoOff,
			new(script).asked(hotAsked).came(20*ms, hot684[:2]).came(400*ms, hot684[2:]), "hot=68.4 °C", sensors.Faults{}},
		{"mute", sensors.EchoAuto, new(script).asked(hotAsked), "", sensors.Faults{NoAnswer: 1}},
		{"wrong CRC once", sensors.EchoAuto,
			new(script).asked(hotAsked).came(20*ms, flipped(hot684)).asked(hotAsked).came(20*ms, hot684),
			"hot=68.4 °C", sensors.Faults{BadChecksum: 1}},
		{"wrong CRC always", sensors.EchoAuto,
			new(script).asked(hotAsked).came(20*ms, flipped(hot684)).asked(hotAsked).came(20*ms, flipped(hot684)).
				asked(hotAsked).came(20*ms, flipped(hot684)), "", sensors.Faults{BadChecksum: 3}},
		{"wrong unit", sensors.EchoAuto,
			new(script).asked(hotAsked).came(20*ms, sealReply(other, []byte{0, 1})).asked(hotAsked).came(20*ms, hot684),
			"hot=68.4 °C", sensors.Faults{WrongAnswers: 1}},
		{"wrong function", sensors.EchoAuto,
			new(script).asked(hotAsked).came(20*ms, sealReply(holding, []byte{0, 1})).asked(hotAsked).came(20*ms, hot684),
			"hot=68.4 °C", sensors.Faults{WrongAnswers: 1}},
		{"wrong byte count", sensors.EchoAuto,
			new(script).asked(hotAsked).came(20*ms, sealReply(wider, []byte{0, 1, 0, 2})).asked(hotAsked).came(20*ms, hot684),
			"hot=68.4 °C", sensors.Faults{WrongAnswers: 1}},
		{"half a frame", sensors.EchoAuto,
			new(script).asked(hotAsked).came(20*ms, hot684[:4]).asked(hotAsked).came(20*ms, hot684),
			"hot=68.4 °C", sensors.Faults{Malformed: 1}},
		{"noise, then quiet", sensors.EchoAuto,
			new(script).asked(hotAsked).came(20*ms, []byte{0xFF, 0x00, 0xFF}).came(30*ms, hot684).asked(hotAsked).came(20*ms, hot684),
			"hot=68.4 °C", sensors.Faults{WrongAnswers: 1}},
		{"refused", sensors.EchoAuto,
			new(script).asked(hotAsked).came(20*ms, refusal(hotRequest, 2)), "hot=device fault", sensors.Faults{Exceptions: 1}},
		{"refused with a wrong CRC", sensors.EchoAuto,
			new(script).asked(hotAsked).came(20*ms, flipped(refusal(hotRequest, 2))).asked(hotAsked).came(20*ms, hot684),
			"hot=68.4 °C", sensors.Faults{BadChecksum: 1}},
		{"busy once", sensors.EchoAuto,
			new(script).asked(hotAsked).came(20*ms, refusal(hotRequest, 6)).asked(hotAsked).came(20*ms, hot684),
			"hot=68.4 °C", sensors.Faults{Exceptions: 1}},
		{"busy for good", sensors.EchoAuto,
			new(script).asked(hotAsked).came(20*ms, refusal(hotRequest, 6)).asked(hotAsked).came(20*ms, refusal(hotRequest, 6)).
				asked(hotAsked).came(20*ms, refusal(hotRequest, 6)), "hot=device fault", sensors.Faults{Exceptions: 3}},
		{"out of range", sensors.EchoAuto,
			new(script).asked(hotAsked).came(20*ms, sealReply(hotRequest, []byte{0x7F, 0xFF})), "hot=beyond belief", sensors.Faults{}},
		{"echo found", sensors.EchoAuto, new(script).asked(hotAsked).came(20*ms, echoed), "hot=68.4 °C", sensors.Faults{}},
		{"echo expected", sensors.EchoOn, new(script).asked(hotAsked).came(20*ms, echoed), "hot=68.4 °C", sensors.Faults{}},
		{"echo at once, answer at the last moment", sensors.EchoOn,
			new(script).asked(hotAsked).came(1*ms, hotAsked).came(950*ms, hot684[:1]).came(950*ms, hot684[1:]), "hot=68.4 °C", sensors.Faults{}},
		{"echo only", sensors.EchoAuto, new(script).asked(hotAsked).came(1*ms, hotAsked), "", sensors.Faults{NoAnswer: 1}},
		{"echo missing where expected", sensors.EchoOn,
			new(script).asked(hotAsked).came(20*ms, hot684).asked(hotAsked).came(20*ms, echoed), "hot=68.4 °C", sensors.Faults{WrongAnswers: 1}},
		{"echo where none is expected", sensors.EchoOff,
			new(script).asked(hotAsked).came(20*ms, echoed).asked(hotAsked).came(20*ms, hot684), "hot=68.4 °C", sensors.Faults{WrongAnswers: 1}},
		{"echo mangled", sensors.EchoOn,
			new(script).asked(hotAsked).came(20*ms, mangled).asked(hotAsked).came(20*ms, echoed), "hot=68.4 °C", sensors.Faults{WrongAnswers: 1}},
		{"echo mangled, not foreseen", sensors.EchoAuto,
			new(script).asked(hotAsked).came(20*ms, mangled).asked(hotAsked).came(20*ms, echoed), "hot=68.4 °C", sensors.Faults{WrongAnswers: 1}},
		{"echo cut short", sensors.EchoAuto,
			new(script).asked(hotAsked).came(20*ms, hotAsked[:5]).asked(hotAsked).came(20*ms, echoed), "hot=68.4 °C", sensors.Faults{WrongAnswers: 1}},
	} {
		for _, lump := range []int{0, 1, 3} {
			t.Run(test.name, func(t *testing.T) {
				link := test.wire.play(t)
				link.Lump = lump
				heard := exchange(t, driver(t, hotConfig(test.echo)), link)
				if got := told(heard.Readings); got != test.want {
					t.Errorf("heard %q, want %q", got, test.want)
				}
				if heard.Faults != test.faults {
					t.Errorf("faults %+v, want %+v", heard.Faults, test.faults)
				}
				if link.Now() > 4*time.Second {
					t.Errorf("the exchange took %v", link.Now())
				}
			})
		}
	}
}

func TestReadingIsStampedWhenItsLastByteCame(t *testing.T) {
	link := new(script).asked(hotAsked).came(20*ms, hot684[:3]).came(30*ms, hot684[3:]).play(t)
	heard := exchange(t, driver(t, hotConfig(sensors.EchoAuto)), link)
	if len(heard.Readings) != 1 || heard.Readings[0].At != 50*ms || heard.Readings[0].Raw != 684 {
		t.Errorf("readings %+v, want one of 684 at 50ms", heard.Readings)
	}
}

// A reply carries no address, so only time can tell a late one from the one
// that is waited for.
func TestLateAnswerIsNotTakenForTheNextOne(t *testing.T) {
	config := hotConfig(sensors.EchoAuto)
	config.Channels = append(config.Channels, probe("cool", 20))
	coolRequest := Request{Unit: 9, Function: 4, Address: 20, Count: 1}
	coolAsked, cool21 := coolRequest.AppendFrame(nil), sealReply(coolRequest, []byte{0, 210})
	link := new(script).asked(hotAsked).came(1500*ms, hot684).
		asked(coolAsked).came(20*ms, cool21).
		asked(hotAsked).came(20*ms, hot684).play(t)
	d := driver(t, config)
	if heard := exchange(t, d, link); len(heard.Readings) != 0 || heard.Faults != (sensors.Faults{NoAnswer: 1}) {
		t.Errorf("the first exchange heard %v, %+v", heard.Readings, heard.Faults)
	}
	heard := exchange(t, d, link)
	if got := told(heard.Readings); got != "cool=21.0 °C, hot=68.4 °C" {
		t.Errorf("then heard %q", got)
	}
	if heard.Faults != (sensors.Faults{WrongAnswers: 1}) {
		t.Errorf("faults %+v, want the late answer counted", heard.Faults)
	}
}

func TestWhatWaitsInTheBuffersIsDiscarded(t *testing.T) {
	link := new(script).came(0, hot684).asked(hotAsked).came(20*ms, sealReply(hotRequest, []byte{0, 210})).play(t)
	if got := told(exchange(t, driver(t, hotConfig(sensors.EchoAuto)), link).Readings); got != "hot=21.0 °C" {
		t.Errorf("heard %q, want the answer and not what lay there before", got)
	}
	if link.Discarded != len(hot684) {
		t.Errorf("%d bytes discarded, want %d", link.Discarded, len(hot684))
	}
}

func TestMuteDeviceTakesBoundedTimeAndStarvesNoOtherRegister(t *testing.T) {
	config := hotConfig(sensors.EchoAuto)
	config.Timeout = 200 * ms
	for i := range 9 {
		config.Channels = append(config.Channels, probe("other", uint16(20+2*i)))
	}
	d := driver(t, config)
	link := &deaf{answer: map[uint16][]byte{}}
	for i := range 9 {
		link.answer[uint16(20+2*i)] = []byte{0, 210}
	}
	heard := map[string]int{}
	for range 20 {
		before := link.now
		for _, r := range exchange(t, d, link).Readings {
			heard[r.Channel]++
		}
		if took := link.now - before; took > 5*config.Timeout {
			t.Errorf("an exchange took %v with a time-out of %v", took, config.Timeout)
		}
	}
	if heard["other"] < 80 || heard["hot"] != 0 {
		t.Errorf("heard %v; the registers that answer must go on being read", heard)
	}
}

// deaf is a device that answers at the addresses it knows and is mute else.
type deaf struct {
	answer  map[uint16][]byte
	pending []byte
	now     time.Duration
}

func (l *deaf) Read(p []byte, wait time.Duration) (int, time.Duration, error) {
	if len(l.pending) == 0 {
		l.now += wait
		return 0, l.now, sensors.ErrTimeout
	}
	l.now += 5 * ms
	n := copy(p, l.pending)
	l.pending = l.pending[n:]
	return n, l.now, nil
}

func (l *deaf) Write(p []byte) error {
	r := Request{Unit: p[0], Function: p[1], Address: uint16(p[2])<<8 | uint16(p[3]), Count: uint16(p[4])<<8 | uint16(p[5])}
	if data, ok := l.answer[r.Address]; ok {
		l.pending = sealReply(r, data)
	}
	return nil
}

func (l *deaf) Discard() error {
	l.pending = nil
	return nil
}

// chatter never falls quiet: noise comes with every read, for ever.
type chatter struct{ now, every time.Duration }

func (l *chatter) Read(p []byte, _ time.Duration) (int, time.Duration, error) {
	l.now += l.every
	return copy(p, sensorstest.Noise(uint64(l.now), min(len(p), 12))), l.now, nil
}
func (l *chatter) Write([]byte) error { return nil }
func (l *chatter) Discard() error     { return nil }

func TestFloodEnds(t *testing.T) {
	for _, every := range []time.Duration{0, ms, quietFor - ms} {
		link := &chatter{every: every}
		heard := exchange(t, driver(t, hotConfig(sensors.EchoAuto)), link)
		if len(heard.Readings) != 0 || heard.Faults.Total() != 1+retries {
			t.Errorf("noise every %v gave %v, %+v", every, heard.Readings, heard.Faults)
		}
		if link.now > 2*time.Second {
			t.Errorf("noise every %v held the exchange for %v", every, link.now)
		}
	}
}

// dribble answers well, but so slowly that each byte seems worth waiting for.
type dribble struct{ deaf }

func (l *dribble) Read(p []byte, wait time.Duration) (int, time.Duration, error) {
	if wait < 700*ms {
		l.now += wait
		return 0, l.now, sensors.ErrTimeout
	}
	l.now += 700 * ms
	p[0], l.pending = l.pending[0], l.pending[1:]
	return 1, l.now, nil
}

func TestDribblingDeviceTakesBoundedTime(t *testing.T) {
	link := &dribble{deaf{answer: map[uint16][]byte{8: {0, 210}}}}
	heard := exchange(t, driver(t, hotConfig(sensors.EchoAuto)), link)
	if len(heard.Readings) != 0 || heard.Faults.Malformed == 0 {
		t.Errorf("%v, %+v", heard.Readings, heard.Faults)
	}
	if link.now > (budgetTimeouts+2)*defaultTimeout {
		t.Errorf("it held the exchange for %v", link.now)
	}
}

func TestEndsOfTheLinkComeThrough(t *testing.T) {
	for _, end := range []error{sensors.ErrUnplugged, sensors.ErrClosed} {
		link := new(script).asked(hotAsked).came(20*ms, hot684[:3]).ended(20*ms, end).play(t)
		if _, err := driver(t, hotConfig(sensors.EchoAuto)).Exchange(link); !errors.Is(err, end) {
			t.Errorf("while reading: %v, want %v", err, end)
		}
		link = new(script).ended(0, end).play(t)
		if _, err := driver(t, hotConfig(sensors.EchoAuto)).Exchange(link); !errors.Is(err, end) {
			t.Errorf("while writing: %v, want %v", err, end)
		}
	}
}

// A refusal of one register in a span must not cost those beside it.
func TestRefusedSpanIsAskedApart(t *testing.T) {
	config := hotConfig(sensors.EchoAuto)
	config.Channels = append(config.Channels, probe("typo", 9))
	both := Request{Unit: 9, Function: 4, Address: 8, Count: 2}
	typo := Request{Unit: 9, Function: 4, Address: 9, Count: 1}
	apart := func(s *script) *script {
		return s.asked(hotAsked).came(20*ms, hot684).asked(typo.AppendFrame(nil)).came(20*ms, refusal(typo, 2))
	}
	link := apart(apart(new(script).asked(both.AppendFrame(nil)).came(20*ms, refusal(both, 2)))).play(t)
	d := driver(t, config)
	for round, faults := range []uint64{2, 1} {
		heard := exchange(t, d, link)
		if got := told(heard.Readings); got != "hot=68.4 °C, typo=device fault" {
			t.Errorf("round %d heard %q", round, got)
		}
		if heard.Faults != (sensors.Faults{Exceptions: faults}) {
			t.Errorf("round %d: faults %+v", round, heard.Faults)
		}
	}
	d.Reset()
	again := new(script).asked(both.AppendFrame(nil)).came(20*ms, sealReply(both, []byte{2, 0xAC, 0, 210})).play(t)
	if got := told(exchange(t, d, again).Readings); got != "hot=68.4 °C, typo=21.0 °C" {
		t.Errorf("after a reset heard %q", got)
	}
}

func TestFloatWithoutANumber(t *testing.T) {
	config := hotConfig(sensors.EchoAuto)
	config.Channels[0].Type = sensors.RegisterFloat32
	request := Request{Unit: 9, Function: 4, Address: 8, Count: 2}
	for _, data := range [][]byte{{0x7F, 0xC0, 0, 0}, {0x7F, 0x80, 0, 0}, {0xFF, 0x80, 0, 0}} {
		link := new(script).asked(request.AppendFrame(nil)).came(20*ms, sealReply(request, data)).play(t)
		heard := exchange(t, driver(t, config), link)
		if got := told(heard.Readings); got != "hot=sends no number" || heard.Faults != (sensors.Faults{NotANumber: 1}) {
			t.Errorf("% X gives %q, %+v", data, got, heard.Faults)
		}
		if heard.Readings[0].Value.Known() {
			t.Errorf("% X: a bad reading carries %v", data, heard.Readings[0].Value)
		}
	}
	if raw := exchange(t, driver(t, hotConfig(sensors.EchoAuto)),
		new(script).asked(hotAsked).came(20*ms, refusal(hotRequest, 4)).play(t)).Readings[0].Raw; !math.IsNaN(raw) {
		t.Errorf("a refusal has the raw number %v, want NaN", raw)
	}
}
