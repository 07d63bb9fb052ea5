package modbus

import (
	"errors"
	"testing"

	"simmerline/sensors"
	"simmerline/sensors/sensorstest"
)

// What each exchange over a recording must tell.
type spoken struct {
	words  string
	faults sensors.Faults
}

func playRecording(t *testing.T, path string, d *Driver, want []spoken) *sensorstest.Playback {
	t.Helper()
	link := sensorstest.NewPlayback(t, sensorstest.Load(t, path))
	for i, w := range want {
		heard := exchange(t, d, link)
		if got := told(heard.Readings); got != w.words || heard.Faults != w.faults {
			t.Errorf("exchange %d: %q, %+v; want %q, %+v", i+1, got, heard.Faults, w.words, w.faults)
		}
	}
	return link
}

func TestRecordedFumeHead(t *testing.T) {
	gas := func(name string, g sensors.Gas, address uint16) sensors.ModbusChannel {
		return sensors.ModbusChannel{
			Channel:  sensors.Channel{Name: name, Quantity: sensors.GasLevel, Gas: g, Low: -1, High: 100},
			Function: 4, Address: address, Type: sensors.RegisterFloat32, LowWordFirst: true,
		}
	}
	head := probe("head", 8)
	head.Function = 3
	d := driver(t, sensors.ModbusConfig{Unit: 17, Timeout: 500 * ms, Channels: []sensors.ModbusChannel{
		gas("h2s", sensors.HydrogenSulfide, 20), gas("so2", sensors.SulfurDioxide, 22), gas("nh3", sensors.Ammonia, 24),
		{Channel: sensors.Channel{Name: "airflow", Quantity: sensors.Contact}, Function: 2, Address: 3, Type: sensors.RegisterBit},
		head,
	}})
	link := playRecording(t, "../../testdata/serial/modbus_fume_head.rec", d, []spoken{
		{"airflow=closed, head=-1.0 °C, h2s=0.42 ppm, so2=0.10 ppm, nh3=4.5 ppm", sensors.Faults{}},
		{"airflow=open, head=-1.0 °C, h2s=6.2 ppm, so2=0.10 ppm, nh3=4.5 ppm", sensors.Faults{BadChecksum: 1}},
		{"airflow=open, head=-1.0 °C, h2s=6.2 ppm, so2=sends no number, nh3=4.5 ppm", sensors.Faults{Exceptions: 1, NotANumber: 1}},
		{"airflow=device fault, head=-1.0 °C, h2s=6.2 ppm, so2=sends no number, nh3=4.5 ppm", sensors.Faults{Exceptions: 1, NotANumber: 1}},
		{"", sensors.Faults{NoAnswer: 1}},
		{"head=-1.0 °C, h2s=6.2 ppm, so2=sends no number, nh3=4.5 ppm, airflow=open", sensors.Faults{NotANumber: 1}},
	})
	link.Pass(100 * ms)
	if _, err := d.Exchange(link); !errors.Is(err, sensors.ErrUnplugged) {
		t.Errorf("in the end %v, want %v", err, sensors.ErrUnplugged)
	}
}

func TestRecordedEcho(t *testing.T) {
	for _, echo := range []sensors.EchoMode{sensors.EchoAuto, sensors.EchoOn} {
		playRecording(t, "../../testdata/serial/modbus_echo.rec", driver(t, hotConfig(echo)), []spoken{
			{"hot=68.4 °C", sensors.Faults{}},
			{"hot=91.0 °C", sensors.Faults{WrongAnswers: 1}},
		})
	}
}
