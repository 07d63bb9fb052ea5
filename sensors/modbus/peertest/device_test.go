//go:build unix

package peertest_test

import (
	"errors"
	"math"
	"os"
	"syscall"
	"testing"
	"time"

	"simmerline/sensors"
	"simmerline/sensors/modbus"
	"simmerline/sensors/modbus/peertest"
)

// These tests pass in real time: reads from a pseudo-terminal do.

// link is the least link there can be to a terminal device.
type link struct {
	file  *os.File
	begun time.Time
}

func open(t *testing.T, path string) *link {
	t.Helper()
	file, err := os.OpenFile(path, os.O_RDWR|syscall.O_NOCTTY|syscall.O_NONBLOCK, 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { file.Close() })
	return &link{file, time.Now()}
}

func (l *link) Read(p []byte, wait time.Duration) (int, time.Duration, error) {
	if err := l.file.SetReadDeadline(time.Now().Add(wait)); err != nil {
		return 0, time.Since(l.begun), err
	}
	n, err := l.file.Read(p)
	switch {
	case errors.Is(err, os.ErrDeadlineExceeded):
		err = sensors.ErrTimeout
	case err != nil:
		err = sensors.ErrUnplugged
	}
	return n, time.Since(l.begun), err
}

func (l *link) Write(p []byte) error {
	_, err := l.file.Write(p)
	if err != nil {
		return sensors.ErrUnplugged
	}
	return nil
}

func (l *link) Discard() error {
	var scrap [256]byte
	for {
		_, _, err := l.Read(scrap[:], time.Microsecond)
		if errors.Is(err, sensors.ErrTimeout) {
			return nil
		}
		if err != nil {
			return err
		}
	}
}

func number(name string, function byte, address uint16, as sensors.RegisterType, lowWordFirst bool) sensors.ModbusChannel {
	return sensors.ModbusChannel{
		Channel:  sensors.Channel{Name: name, Quantity: sensors.Temperature, Low: -1e9, High: 5e9},
		Function: function, Address: address, Type: as, LowWordFirst: lowWordFirst,
	}
}

func contact(name string, function byte, address uint16) sensors.ModbusChannel {
	return sensors.ModbusChannel{
		Channel:  sensors.Channel{Name: name, Quantity: sensors.Contact},
		Function: function, Address: address, Type: sensors.RegisterBit,
	}
}

func ask(t *testing.T, d *modbus.Driver, l sensors.Link) (map[string]sensors.Reading, sensors.Faults) {
	t.Helper()
	heard, err := d.Exchange(l)
	if err != nil {
		t.Fatal(err)
	}
	readings := map[string]sensors.Reading{}
	for _, r := range heard.Readings {
		readings[r.Channel] = r
	}
	return readings, heard.Faults
}

func driver(t *testing.T, timeout time.Duration, channels ...sensors.ModbusChannel) *modbus.Driver {
	t.Helper()
	d, err := modbus.New(sensors.ModbusConfig{Unit: 17, Timeout: timeout, Channels: channels})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

const patient = 5 * time.Second // for answers that must come, on a busy machine

func TestEveryFunctionAndType(t *testing.T) {
	device := peertest.Start(t, 17)
	device.SetCoil(3, true)
	device.SetDiscrete(11, true)
	device.SetHolding(0, 40000)
	device.SetHolding(1, 0xFF9C) // -100
	device.SetHolding(2, 0x0001)
	device.SetHolding(3, 0x86A0) // 100000 = 0001 86A0
	device.SetHolding(4, 0x7960)
	device.SetHolding(5, 0xFFFE) // -100000 = FFFE 7960, low word first
	device.SetHoldingFloat(6, 68.4, false)
	device.SetInput(8, 910)
	device.SetInputFloat(20, 91.25, false)
	device.SetInputFloat(22, -40.5, true)
	device.SetInputFloat(30, float32(math.NaN()), false)
	d := driver(t, patient,
		contact("coil", 1, 3), contact("coil-off", 1, 4), contact("discrete", 2, 11), contact("discrete-off", 2, 10),
		number("uint16", 3, 0, sensors.RegisterUint16, false), number("int16", 3, 1, sensors.RegisterInt16, false),
		number("uint32", 3, 2, sensors.RegisterUint32, false), number("int32-low-first", 3, 4, sensors.RegisterInt32, true),
		number("holding-float", 3, 6, sensors.RegisterFloat32, false), number("input", 4, 8, sensors.RegisterUint16, false),
		number("float", 4, 20, sensors.RegisterFloat32, false), number("float-low-first", 4, 22, sensors.RegisterFloat32, true),
		number("nan", 4, 30, sensors.RegisterFloat32, false))
	readings, faults := ask(t, d, open(t, device.Path))
	for name, want := range map[string]float64{
		"coil": 1, "coil-off": 0, "discrete": 1, "discrete-off": 0, "uint16": 40000, "int16": -100, "uint32": 100000,
		"int32-low-first": -100000, "holding-float": float64(float32(68.4)), "input": 910, "float": 91.25, "float-low-first": -40.5,
	} {
		if r := readings[name]; r.Quality != sensors.QualityGood || r.Raw != want {
			t.Errorf("%s is %v (%v), want %v", name, r.Raw, r.Reason, want)
		}
	}
	if r := readings["nan"]; r.Reason != sensors.ReasonNotANumber || r.Value.Known() {
		t.Errorf("NaN became %+v", r)
	}
	if faults != (sensors.Faults{NotANumber: 1}) {
		t.Errorf("faults %+v", faults)
	}
}

// The most that one reply can carry, by libmodbus's own count of bytes.
func TestLongestReplies(t *testing.T) {
	device := peertest.Start(t, 17)
	device.SetHolding(124, 1234)
	var channels []sensors.ModbusChannel
	for i := range uint16(modbus.MaxRegisters) {
		channels = append(channels, number("register", 3, i, sensors.RegisterUint16, false))
	}
	channels[124].Name = "last"
	d := driver(t, patient, channels...)
	readings, faults := ask(t, d, open(t, device.Path))
	if readings["last"].Raw != 1234 || faults != (sensors.Faults{}) {
		t.Errorf("last of 125 registers is %v, faults %+v", readings["last"].Raw, faults)
	}
}

func TestMisbehaviour(t *testing.T) {
	device := peertest.Start(t, 17)
	device.SetInput(8, 910)
	l := open(t, device.Path)
	d := driver(t, patient, number("hot", 4, 8, sensors.RegisterUint16, false))
	expect := func(when string, raw float64, reason sensors.Reason, want sensors.Faults) {
		t.Helper()
		readings, faults := ask(t, d, l)
		if r, ok := readings["hot"]; !ok || r.Reason != reason || reason == sensors.ReasonNone && r.Raw != raw {
			t.Errorf("%s: %+v", when, r)
		}
		if faults != want {
			t.Errorf("%s: faults %+v, want %+v", when, faults, want)
		}
	}
	expect("at first", 910, sensors.ReasonNone, sensors.Faults{})
	device.Corrupt(1)
	expect("one wrong CRC", 910, sensors.ReasonNone, sensors.Faults{BadChecksum: 1})
	device.Refuse(1, 4)
	expect("a device failure", 0, sensors.ReasonDeviceFault, sensors.Faults{Exceptions: 1})
	device.Refuse(2, 6)
	expect("busy twice", 910, sensors.ReasonNone, sensors.Faults{Exceptions: 2})
	device.Corrupt(3)
	if readings, faults := ask(t, d, l); len(readings) != 0 || faults != (sensors.Faults{BadChecksum: 3}) {
		t.Errorf("wrong CRCs only: %v, %+v", readings, faults)
	}
	device.SetInput(8, 911)
	expect("well again", 911, sensors.ReasonNone, sensors.Faults{})
}

func TestBeyondTheLastRegister(t *testing.T) {
	device := peertest.Start(t, 17)
	device.SetInput(999, 5)
	d := driver(t, patient, number("last", 4, 999, sensors.RegisterUint16, false), number("beyond", 4, 1000, sensors.RegisterUint16, false))
	readings, faults := ask(t, d, open(t, device.Path))
	if readings["last"].Raw != 5 || readings["beyond"].Reason != sensors.ReasonDeviceFault {
		t.Errorf("readings %+v", readings)
	}
	if faults != (sensors.Faults{Exceptions: 2}) {
		t.Errorf("faults %+v, want a refusal of both and one of the second", faults)
	}
}

func TestMuteAndLate(t *testing.T) {
	device := peertest.Start(t, 17)
	device.SetInput(8, 910)
	device.SetInput(20, 210)
	l := open(t, device.Path)
	d := driver(t, 500*time.Millisecond, number("hot", 4, 8, sensors.RegisterUint16, false), number("cool", 4, 20, sensors.RegisterUint16, false))
	device.Mute(true)
	if readings, faults := ask(t, d, l); len(readings) != 0 || faults != (sensors.Faults{NoAnswer: 1}) {
		t.Errorf("mute: %v, %+v", readings, faults)
	}
	device.Mute(false)
	device.Delay(750 * time.Millisecond) // between one time-out and two
	late := 0
	for range 3 {
		readings, faults := ask(t, d, l)
		if len(readings) != 0 {
			t.Errorf("an answer that was late was taken: %+v", readings)
		}
		late += int(faults.WrongAnswers)
	}
	if late < 1 {
		t.Error("no late answer was counted")
	}
	device.Delay(0)
	readings, _ := ask(t, d, l)
	if len(readings) == 0 {
		readings, _ = ask(t, d, l)
	}
	for name, want := range map[string]float64{"hot": 910, "cool": 210} {
		if r := readings[name]; r.Raw != want {
			t.Errorf("well again: %s is %v, want %v", name, r.Raw, want)
		}
	}
}

func TestOtherUnitIsNotAnswered(t *testing.T) {
	device := peertest.Start(t, 16)
	d := driver(t, 200*time.Millisecond, number("hot", 4, 8, sensors.RegisterUint16, false))
	if readings, faults := ask(t, d, open(t, device.Path)); len(readings) != 0 || faults != (sensors.Faults{NoAnswer: 1}) {
		t.Errorf("%v, %+v", readings, faults)
	}
}

// On one wire with a unit that is not there, the one that is goes on being read,
// though libmodbus takes whatever comes next for the other's answer.
func TestBesideAnAbsentUnit(t *testing.T) {
	device := peertest.Start(t, 17)
	device.SetInput(8, 910)
	absent := number("absent", 4, 8, sensors.RegisterUint16, false)
	absent.Unit = 5
	d := driver(t, 300*time.Millisecond, absent, number("hot", 4, 8, sensors.RegisterUint16, false))
	l := open(t, device.Path)
	rounds, mute, heard := 0, 0, time.Now()
	for ; time.Since(l.begun) < 5*time.Second; rounds++ {
		readings, faults := ask(t, d, l)
		if r, ok := readings["hot"]; ok && r.Raw != 910 || len(readings) > 1 {
			t.Errorf("readings %+v", readings)
		}
		if faults.NoAnswer > 0 {
			mute++
		}
		if _, ok := readings["hot"]; ok {
			heard = time.Now()
		} else if time.Since(heard) > 3*time.Second {
			t.Fatalf("the unit that is there is not heard after %d rounds", rounds)
		}
		l.Read(make([]byte, 1), 50*time.Millisecond) // lets time pass
	}
	if mute < 2 || mute > 10 {
		t.Errorf("%d rounds of %d met with silence", mute, rounds)
	}
}

func TestUnplugAndPlug(t *testing.T) {
	device := peertest.Start(t, 17)
	device.SetInput(8, 910)
	d := driver(t, patient, number("hot", 4, 8, sensors.RegisterUint16, false))
	l := open(t, device.Path)
	if readings, _ := ask(t, d, l); readings["hot"].Raw != 910 {
		t.Fatalf("at first: %+v", readings)
	}
	device.Unplug()
	if _, err := d.Exchange(l); !errors.Is(err, sensors.ErrUnplugged) {
		t.Errorf("unplugged: %v", err)
	}
	if _, err := os.Lstat(device.Path); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the path is still there: %v", err)
	}
	device.Plug()
	d.Reset()
	if readings, faults := ask(t, d, open(t, device.Path)); readings["hot"].Raw != 910 {
		t.Errorf("plugged in again: %+v, %+v", readings, faults)
	}
}

// A reader that has asked nothing must learn of it as well.
func TestUnplugWakesWhoIsReading(t *testing.T) {
	device := peertest.Start(t, 17)
	l := open(t, device.Path)
	time.AfterFunc(50*time.Millisecond, device.Unplug)
	if n, at, err := l.Read(make([]byte, 8), 10*time.Second); n != 0 || !errors.Is(err, sensors.ErrUnplugged) {
		t.Errorf("%d bytes at %v, %v", n, at, err)
	}
}
