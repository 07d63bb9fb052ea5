package lines

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"simmerline/sensors"
)

func temperature(name, key string, column int) sensors.LineChannel {
	return sensors.LineChannel{
		Channel: sensors.Channel{Name: name, Quantity: sensors.Temperature, Low: -20, High: 200}, Key: key, Column: column,
	}
}

// bench maps four channels: hot and cool (°C), h2s (ppm) and fan (a contact).
func bench(format sensors.LineFormat, check sensors.LineCheck) sensors.LinesConfig {
	return sensors.LinesConfig{Format: format, Check: check, Channels: []sensors.LineChannel{
		temperature("hot", "hot", 1), temperature("cool", "cool", 2),
		{Channel: sensors.Channel{Name: "h2s", Quantity: sensors.GasLevel, Gas: sensors.HydrogenSulfide, Low: -1, High: 100}, Key: "head.h2s", Column: 3},
		{Channel: sensors.Channel{Name: "fan", Quantity: sensors.Contact}, Key: "fan", Column: 4},
	}}
}

func parser(t testing.TB, config sensors.LinesConfig) *Parser {
	t.Helper()
	p, err := NewParser(config)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// parse puts what a line tells in words: name=value or name=reason, or the
// fault it is counted as.
func parse(p *Parser, line string) string {
	var heard sensors.Exchanged
	p.Parse([]byte(line), time.Second, &heard)
	return told(heard)
}

func told(heard sensors.Exchanged) string {
	var words []string
	for _, r := range heard.Readings {
		if r.Quality == sensors.QualityGood {
			words = append(words, r.Channel+"="+r.Value.String())
		} else {
			words = append(words, r.Channel+"="+r.Reason.String())
		}
	}
	for name, n := range map[string]uint64{
		"bad checksum": heard.Faults.BadChecksum, "malformed": heard.Faults.Malformed, "not mapped": heard.Faults.NotMapped,
	} {
		if n > 0 {
			words = append(words, fmt.Sprintf("%s %d", name, n))
		}
	}
	return strings.Join(words, ", ")
}

type lineTest struct{ line, want string }

func runLines(t *testing.T, config sensors.LinesConfig, tests []lineTest) {
	t.Helper()
	p := parser(t, config)
	for _, test := range tests {
		if got := parse(p, test.line); got != test.want {
			t.Errorf("%q gives %q, want %q", test.line, got, test.want)
		}
	}
}

func TestNameValueLines(t *testing.T) {
	runLines(t, bench(sensors.LineNameValue, sensors.LineUnchecked), []lineTest{
		{"hot=68.4", "hot=68.4 °C"},
		{"hot=68.4 cool=21.0", "hot=68.4 °C, cool=21.0 °C"},
		{" cool=21,\thot=68.4 ;; fan=1 ", "cool=21.0 °C, hot=68.4 °C, fan=closed"},
		{"up=1201 hot=68.4 note=fine", "hot=68.4 °C"},
		{"head.h2s=0.42", "h2s=0.42 ppm"},
		{"up=1201", "not mapped 1"},
		{"Hot=68.4", "not mapped 1"},
		{" ,; ", "not mapped 1"},
		{"board ready", "malformed 1"},
		{"hot=68.4 cool", "malformed 1"},
		{"hot= 68.4", "malformed 1"},
		{"hot: 68.4", "malformed 1"},
		{"=68.4", "malformed 1"},
		{"hot=68.4 hot=68.4", "malformed 1"},
		{"hot=68,4", "malformed 1"},
		{"hot=68.4 cool=2l.0", "malformed 1"},
		{"cool=2l.0 hot=68.4", "malformed 1"},
		{"hot=68.4=5", "malformed 1"},
		{"hot=68.4\x00", "malformed 1"},
		{"\x00hot=68.4", "malformed 1"},
		{"hot=68.4\x1b", "malformed 1"},
		{"note=\xff hot=68.4", "malformed 1"},
		{"hot=250", "hot=beyond belief"},
		{"head.h2s=250", "h2s=over range"},
		{"hot=68.4*5A", "malformed 1"}, // unchecked: a "*" means nothing
	})
}

func TestNumbersAndWords(t *testing.T) {
	scaled := bench(sensors.LineNameValue, sensors.LineUnchecked)
	scaled.Channels[1].Scale = 0.1
	runLines(t, scaled, []lineTest{
		{"hot=-3", "hot=-3.0 °C"}, {"hot=+3.50", "hot=3.5 °C"}, {"hot=6.84e+1", "hot=68.4 °C"}, {"hot=684E-1", "hot=68.4 °C"}, {"hot=068.4", "hot=68.4 °C"},
		{"hot=68.4C", "hot=68.4 °C"}, {"hot=68.4°C", "hot=68.4 °C"}, {"head.h2s=0.4ppm", "h2s=0.40 ppm"},
		{"cool=210", "cool=21.0 °C"},
		{"cool=210C", "malformed 1"}, // scaled, so its raw number is in no °C
		{"hot=155F", "malformed 1"}, {"hot=68.4K", "malformed 1"}, {"hot=68.4CC", "malformed 1"}, {"head.h2s=400ppb", "malformed 1"}, {"head.h2s=1C", "malformed 1"},
		{"hot=0x44", "malformed 1"}, {"hot=6_8", "malformed 1"}, {"hot=.5", "malformed 1"}, {"hot=5.", "malformed 1"}, {"hot=-", "malformed 1"}, {"hot=.", "malformed 1"},
		{"hot=6.8.4", "malformed 1"}, {"hot=68e", "malformed 1"}, {"hot=e5", "malformed 1"}, {"hot=--5", "malformed 1"}, {"hot=0x1p4", "malformed 1"}, {"hot=infinity", "malformed 1"},
		{"hot=C", "malformed 1"}, {"hot=" + strings.Repeat("1", mostDigits+1), "malformed 1"}, {"hot=٣", "malformed 1"},
		{"hot=1e999", "hot=sends no number"}, {"hot=-1e999", "hot=sends no number"},
		{"hot=", "hot=sends no number"}, {"hot= cool=210", "hot=sends no number, cool=21.0 °C"}, {"hot=NaN", "hot=sends no number"}, {"hot=-nan", "hot=sends no number"},
		{"hot=inf", "hot=sends no number"}, {"hot=ovf", "hot=sends no number"}, {"hot=ERR", "hot=sends no number"}, {"hot=--", "hot=sends no number"},
		{"hot=fault", "hot=device fault"}, {"hot=open", "hot=probe open"}, {"hot=Short", "hot=probe shorted"},
		{"hot=over", "hot=beyond belief"}, {"head.h2s=over", "h2s=over range"}, {"hot=under", "hot=beyond belief"}, {"head.h2s=under-range", "h2s=under range"},
		{"hot=opem", "malformed 1"}, {"hot=true", "malformed 1"}, {"hot=on", "malformed 1"}, {"hot=closed", "malformed 1"},
		{"fan=1", "fan=closed"}, {"fan=0", "fan=open"}, {"fan=on", "fan=closed"}, {"fan=OFF", "fan=open"}, {"fan=true", "fan=closed"}, {"fan=false", "fan=open"},
		{"fan=closed", "fan=closed"}, {"fan=open", "fan=open"}, {"fan=err", "fan=sends no number"}, {"fan=", "fan=sends no number"},
		{"fan=2", "malformed 1"}, {"fan=0.5", "malformed 1"}, {"fan=-1", "malformed 1"}, {"fan=yes", "malformed 1"},
	})
}

func TestBadReadingsCarryNoNumberAndAreCounted(t *testing.T) {
	p := parser(t, bench(sensors.LineNameValue, sensors.LineUnchecked))
	var heard sensors.Exchanged
	p.Parse([]byte("hot=nan cool=open fan=err head.h2s=1e999"), 7*time.Second, &heard)
	if len(heard.Readings) != 4 {
		t.Fatalf("readings %+v", heard.Readings)
	}
	for _, r := range heard.Readings {
		if r.Quality != sensors.QualityBad || r.Value.Known() || !math.IsNaN(r.Raw) || r.At != 7*time.Second {
			t.Errorf("%+v is no bad reading without a number, at 7s", r)
		}
	}
	if heard.Faults != (sensors.Faults{NotANumber: 3}) {
		t.Errorf("faults %+v, want three values that are no number; an open probe is something else", heard.Faults)
	}
}

func TestCSVLines(t *testing.T) {
	runLines(t, bench(sensors.LineCSV, sensors.LineUnchecked), []lineTest{
		{"68.4,21.0,0.42,1", "hot=68.4 °C, cool=21.0 °C, h2s=0.42 ppm, fan=closed"},
		{" 68.4 ,\t21.0, 0.42, 0 ,extra,", "hot=68.4 °C, cool=21.0 °C, h2s=0.42 ppm, fan=open"},
		{"68.4,,nan,1", "hot=68.4 °C, cool=sends no number, h2s=sends no number, fan=closed"},
		{"68.4,21.0,0.42", "malformed 1"},
		{"68.4;21.0;0.42;1", "malformed 1"},
		{"hot,cool,h2s,fan", "malformed 1"},
		{"\"68.4\",21.0,0.42,1", "malformed 1"},
		{"68.4,21 .0,0.42,1", "malformed 1"},
		{"", "malformed 1"},
	})
}

func TestJSONLines(t *testing.T) {
	config := bench(sensors.LineJSON, sensors.LineXORWhereThere)
	runLines(t, config, []lineTest{
		{`{"hot":68.4,"cool":21}`, "hot=68.4 °C, cool=21.0 °C"},
		{`{"head":{"h2s":0.42,"nh3":[4.5,{"hot":1}]},"fan":true,"up":1201}`, "h2s=0.42 ppm, fan=closed"},
		{`{"head.h2s":0.42}`, "h2s=0.42 ppm"},
		{`{"hot":"68.4","cool":"open","fan":false}`, "hot=68.4 °C, cool=probe open, fan=open"},
		{`{"hot":null,"cool":6.84e1}`, "hot=sends no number, cool=68.4 °C"},
		{`{"hot":68.4}` + checkOf(`{"hot":68.4}`), "hot=68.4 °C"},
		{`{"hot":68.4}*00`, "bad checksum 1"},
		{`{"up":1201}`, "not mapped 1"},
		{`{}`, "not mapped 1"},
		{`{"hot":68.4,"hot":68.4}`, "malformed 1"},
		{`{"head":{"h2s":1},"head.h2s":1}`, "malformed 1"},
		{`{"hot":true}`, "malformed 1"},
		{`{"fan":2}`, "malformed 1"},
		{`{"hot":{"a":1}}`, "malformed 1"},
		{`{"hot":[68.4]}`, "malformed 1"},
		{`{"hot":68.4`, "malformed 1"},
		{`{"hot":68.4}}`, "malformed 1"},
		{`{"hot":68.4,}`, "malformed 1"},
		{`{"hot":68.4 "cool":1}`, "malformed 1"},
		{`{"hot" 68.4}`, "malformed 1"},
		{`{"hot":68.4]`, "malformed 1"},
		{`{"a":[1,],"hot":68.4}`, "malformed 1"},
		{`{,"hot":68.4}`, "malformed 1"},
		{`{"hot":68.4} {"hot":68.4}`, "malformed 1"},
		{`{"hot":068.4}`, "malformed 1"},
		{`{hot:68.4}`, "malformed 1"},
		{`[{"hot":68.4}]`, "malformed 1"},
		{`68.4`, "malformed 1"},
		{`{"hot":"68,4"}`, "malformed 1"},
		{strings.Repeat(`{"a":`, 80), "malformed 1"},
		{strings.Repeat(`{"a":`, 80) + "1" + strings.Repeat("}", 80), "not mapped 1"},
	})
}

func TestNewParserRefusesWhatNoLineCanMeet(t *testing.T) {
	for _, test := range []struct {
		change func(*sensors.LinesConfig)
		says   string
	}{
		{func(c *sensors.LinesConfig) { c.Channels = nil }, "no channels"},
		{func(c *sensors.LinesConfig) { c.Format = 9 }, "format 9"},
		{func(c *sensors.LinesConfig) { c.Check = 9 }, "check 9"},
		{func(c *sensors.LinesConfig) { c.Channels[0].Key = "" }, "no key"},
		{func(c *sensors.LinesConfig) { c.Channels[0].Key = "hot bath" }, `"hot bath"`},
		{func(c *sensors.LinesConfig) { c.Channels[0].Key = "a=b" }, `"a=b"`},
		{func(c *sensors.LinesConfig) { c.Format = sensors.LineCSV; c.Channels[0].Column = 0 }, "column 0"},
	} {
		config := bench(sensors.LineNameValue, sensors.LineUnchecked)
		test.change(&config)
		if _, err := New(config); err == nil || !strings.Contains(err.Error(), test.says) {
			t.Errorf("error %v, want one that says %q", err, test.says)
		}
	}
}
