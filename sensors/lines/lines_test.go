package lines

import (
	"errors"
	"strings"
	"testing"
	"time"

	"simmerline/sensors"
	"simmerline/sensors/sensorstest"
)

func driver(t *testing.T, config sensors.LinesConfig) *Driver {
	t.Helper()
	d, err := New(config)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// listen exchanges until the recording ends, or for 60 s of its time without
// an end, and gives all that was heard.
func listen(t *testing.T, d *Driver, link *sensorstest.Playback) (sensors.Exchanged, error) {
	t.Helper()
	var all sensors.Exchanged
	for link.Now() < time.Minute {
		before := link.Now()
		heard, err := d.Exchange(link)
		all.Readings = append(all.Readings, heard.Readings...)
		all.Faults.Add(heard.Faults)
		if err != nil {
			return all, err
		}
		if took := link.Now() - before; took > 3*time.Second {
			t.Errorf("an exchange took %v", took)
		}
	}
	return all, nil
}

func spoken(heard sensors.Exchanged) string {
	return told(sensors.Exchanged{Readings: heard.Readings})
}

func TestRecordedThermocoupleBoard(t *testing.T) {
	config := sensors.LinesConfig{Channels: []sensors.LineChannel{temperature("soda", "soda", 0), temperature("rinse", "rinse", 0)}}
	for _, lump := range []int{0, 1, 7} {
		link := sensorstest.NewPlayback(t, sensorstest.Load(t, "../../testdata/serial/lines_thermocouple_board.rec"))
		link.Lump = lump
		heard, err := listen(t, driver(t, config), link)
		if !errors.Is(err, sensors.ErrUnplugged) {
			t.Errorf("it ended with %v, want %v", err, sensors.ErrUnplugged)
		}
		want := strings.Join([]string{
			"soda=28.5 °C, rinse=19.6 °C", "soda=28.6 °C, rinse=19.6 °C", "soda=probe open, rinse=19.6 °C",
			"soda=sends no number, rinse=19.7 °C", "soda=28.7 °C, rinse=19.7 °C"}, ", ")
		if got := spoken(heard); got != want {
			t.Errorf("heard %q, want %q", got, want)
		}
		if heard.Faults != (sensors.Faults{Malformed: 2, NotMapped: 1, NotANumber: 1}) {
			t.Errorf("faults %+v", heard.Faults)
		}
		if len(heard.Readings) > 3 && heard.Readings[2].At != 1045*time.Millisecond {
			t.Errorf("a line torn in two is stamped %v, want the time of its last byte, 1.045s", heard.Readings[2].At)
		}
	}
}

func TestRecordedCheckedLines(t *testing.T) {
	config := sensors.LinesConfig{Check: sensors.LineXORRequired,
		Channels: []sensors.LineChannel{temperature("hot", "hot", 0), temperature("cool", "cool", 0)}}
	link := sensorstest.NewPlayback(t, sensorstest.Load(t, "../../testdata/serial/lines_checked.rec"))
	heard, err := listen(t, driver(t, config), link)
	if err != nil {
		t.Error(err)
	}
	if got, want := spoken(heard), "hot=68.4 °C, cool=21.0 °C, hot=70.2 °C, cool=21.1 °C"; got != want {
		t.Errorf("heard %q, want %q", got, want)
	}
	if heard.Faults != (sensors.Faults{BadChecksum: 4}) {
		t.Errorf("faults %+v, want four lines with a wrong check", heard.Faults)
	}
}

func TestMuteBoardIsNoFailure(t *testing.T) {
	link := sensorstest.NewPlayback(t, nil)
	d := driver(t, bench(sensors.LineNameValue, sensors.LineUnchecked))
	heard, err := d.Exchange(link)
	if err != nil || len(heard.Readings) != 0 || heard.Faults != (sensors.Faults{}) {
		t.Errorf("%+v, %v", heard, err)
	}
	if d.Interval() != 0 {
		t.Errorf("interval %v, want 0: it talks by itself", d.Interval())
	}
}

func TestResetDropsTheNextFragment(t *testing.T) {
	d := driver(t, bench(sensors.LineNameValue, sensors.LineUnchecked))
	first := sensorstest.Recording{{Kind: sensorstest.Arrived, Bytes: []byte("\nhot=6")}}
	second := sensorstest.Recording{{Kind: sensorstest.Arrived, Bytes: []byte("8.4\nhot=70\n")}}
	if heard, err := d.Exchange(sensorstest.NewPlayback(t, first)); err != nil || len(heard.Readings) > 0 {
		t.Errorf("%+v, %v", heard, err)
	}
	d.Reset()
	heard, err := d.Exchange(sensorstest.NewPlayback(t, second))
	if got := told(heard); err != nil || got != "hot=70.0 °C" {
		t.Errorf("heard %q, %v", got, err)
	}
}

// torrent has more to give with every read.
type torrent struct{ reads int }

func (l *torrent) Read(p []byte, _ time.Duration) (int, time.Duration, error) {
	l.reads++
	for i := range p {
		p[i] = "a=1\n"[i%4]
	}
	return len(p), time.Duration(l.reads), nil
}
func (l *torrent) Write([]byte) error { return errors.New("nothing is sent to a board that prints") }
func (l *torrent) Discard() error     { return nil }

func TestFloodIsBoundedPerExchange(t *testing.T) {
	config := sensors.LinesConfig{Channels: []sensors.LineChannel{temperature("a", "a", 0)}}
	link := &torrent{}
	heard, err := driver(t, config).Exchange(link)
	if err != nil || link.reads != 1 || len(heard.Readings) > mostBytes/4 {
		t.Errorf("%d reads gave %d readings, %v; want one read", link.reads, len(heard.Readings), err)
	}
}
