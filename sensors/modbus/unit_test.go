package modbus

import (
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"simmerline/sensors"
)

// twoUnits is a port whose channel hot is unit 5's, and cool unit 9's, which is
// the port's own.
func twoUnits() (config sensors.ModbusConfig, hot, cool Request) {
	config = hotConfig(sensors.EchoAuto)
	config.Channels[0].Unit = 5
	config.Channels = append(config.Channels, probe("cool", 8))
	return config, Request{Unit: 5, Function: 4, Address: 8, Count: 1}, hotRequest
}

// Both units have their channel in the same register, so that nothing but the
// unit tells their answers apart.
func TestTwoUnitsOneDead(t *testing.T) {
	config, hot, cool := twoUnits()
	askedHot, askedCool := hot.AppendFrame(nil), cool.AppendFrame(nil)
	is684, is210 := sealReply(hot, []byte{0x02, 0xAC}), sealReply(cool, []byte{0, 210})
	both := func(s *script) *script {
		return s.asked(askedHot).came(20*ms, is684).asked(askedCool).came(20*ms, is210)
	}
	s := both(new(script))
	s.asked(askedHot).asked(askedCool).came(20*ms, is210) // it is mute: a time-out, and on in the same exchange
	s.asked(askedCool).came(20*ms, is210)                 // it rests
	s.asked(askedCool).came(20*ms, is210).asked(askedHot) // asked again, and still mute
	s.asked(askedCool).came(20*ms, is210).asked(askedCool).came(20*ms, is210)
	s.asked(askedCool).came(20*ms, is210).asked(askedHot).came(20*ms, is684)
	link := both(s).play(t)
	d := driver(t, config)
	if config.Channels[1].Unit != 0 {
		t.Error("the driver has changed the configuration of its caller")
	}
	next := time.Duration(0)
	for round, want := range []spoken{
		{"hot=68.4 °C, cool=21.0 °C", sensors.Faults{}},
		{"cool=21.0 °C", sensors.Faults{NoAnswer: 1}},
		{"cool=21.0 °C", sensors.Faults{}},
		{"cool=21.0 °C", sensors.Faults{NoAnswer: 1}},
		{"cool=21.0 °C", sensors.Faults{}},
		{"cool=21.0 °C", sensors.Faults{}},
		{"cool=21.0 °C, hot=68.4 °C", sensors.Faults{}},
		{"hot=68.4 °C, cool=21.0 °C", sensors.Faults{}},
	} {
		link.Pass(max(0, next-link.Now()))
		next = link.Now() + d.Interval()
		heard := exchange(t, d, link)
		if got := told(heard.Readings); got != want.words || heard.Faults != want.faults {
			t.Errorf("round %d: %q, %+v; want %q, %+v", round, got, heard.Faults, want.words, want.faults)
		}
	}
}

// The late answer of one unit comes while another is asked: alone, in front of
// the true answer, and cut through by it.
func TestLateAnswerOfAnotherUnitIsNotTaken(t *testing.T) {
	config, hot, cool := twoUnits()
	askedHot, askedCool := hot.AppendFrame(nil), cool.AppendFrame(nil)
	late, is210 := sealReply(hot, []byte{0x02, 0xAC}), sealReply(cool, []byte{0, 210})
	for name, c := range map[string]struct {
		came   []byte
		faults sensors.Faults
	}{
		"alone":                  {late, sensors.Faults{NoAnswer: 1, WrongAnswers: 1}},
		"in front of the answer": {append(slices.Clone(late), is210...), sensors.Faults{NoAnswer: 1, WrongAnswers: 1}},
		"over the answer":        {append(slices.Clone(is210[:4]), late[4:]...), sensors.Faults{NoAnswer: 1, BadChecksum: 1}},
	} {
		t.Run(name, func(t *testing.T) {
			link := new(script).asked(askedHot).asked(askedCool).came(20*ms, c.came).asked(askedCool).came(20*ms, is210).play(t)
			heard := exchange(t, driver(t, config), link)
			if got := told(heard.Readings); got != "cool=21.0 °C" || heard.Faults != c.faults {
				t.Errorf("%q, %+v; want cool=21.0 °C, %+v", got, heard.Faults, c.faults)
			}
		})
	}
}

// shared is a wire with many devices. Each answers after its time, or is mute
// while that is 0. Those that listen in take what follows a question to another
// device for its answer, as libmodbus does.
type shared struct {
	answers map[byte]time.Duration
	listens map[byte]bool
	expects map[byte]bool // the listeners that take what comes next so
	now     time.Duration
	pending []byte
	due     time.Duration

	asked, unanswered map[byte][]time.Duration // when each was
}

func (l *shared) Read(p []byte, wait time.Duration) (int, time.Duration, error) {
	if len(l.pending) == 0 || l.due > l.now+wait {
		l.now += wait
		return 0, l.now, sensors.ErrTimeout
	}
	l.now = max(l.now, l.due)
	n := copy(p, l.pending)
	l.pending = l.pending[n:]
	return n, l.now, nil
}

func (l *shared) Write(p []byte) error {
	r := Request{Unit: p[0], Function: p[1], Address: uint16(p[2])<<8 | uint16(p[3]), Count: uint16(p[4])<<8 | uint16(p[5])}
	l.asked[r.Unit] = append(l.asked[r.Unit], l.now)
	after := l.answers[r.Unit]
	if l.expects[r.Unit] {
		after = 0
	}
	for unit := range l.listens {
		l.expects[unit] = unit != r.Unit && !l.expects[unit] && after == 0
	}
	if after > 0 {
		l.pending, l.due = sealReply(r, make([]byte, r.dataBytes())), l.now+after
	} else {
		l.unanswered[r.Unit] = append(l.unanswered[r.Unit], l.now)
	}
	return nil
}

func (l *shared) Discard() error {
	l.pending = nil
	return nil
}

// many is a wire of this many units, each with one channel, named by its unit.
func many(n int, every, timeout time.Duration) (sensors.ModbusConfig, *shared) {
	config := sensors.ModbusConfig{Unit: 1, Every: every, Timeout: timeout}
	link := &shared{answers: map[byte]time.Duration{}, listens: map[byte]bool{}, expects: map[byte]bool{}, asked: map[byte][]time.Duration{}, unanswered: map[byte][]time.Duration{}}
	for unit := byte(1); unit <= byte(n); unit++ {
		ch := probe(fmt.Sprint(unit), 8)
		ch.Unit = unit
		config.Channels = append(config.Channels, ch)
		link.answers[unit] = 20 * ms
	}
	return config, link
}

// run does one exchange and waits for the next to fall due.
func (l *shared) run(d *Driver) (heard sensors.Exchanged, took time.Duration, err error) {
	start := l.now
	heard, err = d.Exchange(l)
	took = l.now - start
	l.now = max(l.now, start+d.Interval())
	return heard, took, err
}

func TestDeadUnitIsAskedLessAndLessOften(t *testing.T) {
	config, link := many(3, 100*ms, 200*ms)
	link.answers[2] = 0
	d := driver(t, config)
	for link.now < 30*time.Second {
		if _, _, err := link.run(d); err != nil {
			t.Fatal(err)
		}
	}
	var rests []time.Duration
	asked := link.asked[2]
	for i, at := range asked[1:] {
		rests = append(rests, at-asked[i]-config.Timeout)
	}
	for i, least := range []time.Duration{200 * ms, 400 * ms, 800 * ms, 1600 * ms, 3200 * ms, 4900 * ms, 4900 * ms} {
		if rests[i] < least || rests[i] > least+config.Every {
			t.Errorf("rest %d is %v, want %v and a round at most", i+1, rests[i], least)
		}
	}
	if longest := slices.Max(rests); longest > askAgainWithin {
		t.Errorf("it was left alone for %v", longest)
	}
	for _, unit := range []byte{1, 3} {
		for i, at := range link.asked[unit][1:] {
			if gap := at - link.asked[unit][i]; gap > config.Every+config.Timeout+40*ms {
				t.Errorf("unit %d was not asked for %v at %v", unit, gap, at)
			}
		}
	}
}

// More dead units than fit in five seconds, one of which comes back: none of
// them is forgotten, and the one that answers hardly feels it.
func TestManyDeadUnitsTakeTurns(t *testing.T) {
	config, link := many(12, time.Second, time.Second)
	for unit := range link.answers {
		if unit != 6 {
			link.answers[unit] = 0
		}
	}
	d := driver(t, config)
	for round := range 60 {
		_, took, err := link.run(d)
		if err != nil {
			t.Fatal(err)
		}
		if round > 12 && took > config.Timeout+20*ms {
			t.Errorf("round %d took %v", round, took)
		}
	}
	for unit, asked := range link.asked {
		if last := asked[len(asked)-1]; link.now-last > 12*time.Second {
			t.Errorf("unit %d was last asked %v ago", unit, link.now-last)
		}
	}
	link.answers[9] = 20 * ms
	for back := link.now; ; {
		heard, _, err := link.run(d)
		if err != nil || link.now-back > 13*time.Second {
			t.Fatalf("unit 9 is back and not heard: %v", err)
		}
		if slices.ContainsFunc(heard.Readings, func(r sensors.Reading) bool { return r.Channel == "9" }) {
			break
		}
	}
}

// So many slow devices that an exchange runs out of time: the next goes on where
// it stopped, and both the last of them and a dead one get their turns.
func TestUnitsThatDoNotFitInAnExchange(t *testing.T) {
	config, link := many(12, 100*ms, 200*ms)
	for unit := range link.answers {
		link.answers[unit] = 150 * ms
	}
	link.answers[3] = 0
	d := driver(t, config)
	for link.now < 60*time.Second {
		_, took, err := link.run(d)
		if err != nil {
			t.Fatal(err)
		}
		if took > (budgetTimeouts+1)*config.Timeout {
			t.Errorf("an exchange took %v", took)
		}
	}
	for unit, asked := range link.asked {
		most := 3 * time.Second // eleven answers, a time-out, and what it takes to begin again
		if unit == 3 {
			most += askAgainWithin
		}
		for i, at := range append(asked[1:], link.now) {
			if gap := at - asked[i]; gap > most {
				t.Errorf("unit %d was not asked for %v before %v", unit, gap, at)
			}
		}
	}
}

func TestEndOfTheLinkComesThroughFromAMuteUnit(t *testing.T) {
	config, hot, cool := twoUnits()
	answered := func(s *script) *script {
		return s.asked(cool.AppendFrame(nil)).came(20*ms, sealReply(cool, []byte{0, 210}))
	}
	s := answered(new(script).asked(hot.AppendFrame(nil)))
	link := answered(s).asked(hot.AppendFrame(nil)).ended(20*ms, sensors.ErrUnplugged).play(t)
	d := driver(t, config)
	exchange(t, d, link)
	link.Pass(time.Second)
	if heard, err := d.Exchange(link); !errors.Is(err, sensors.ErrUnplugged) || told(heard.Readings) != "cool=21.0 °C" {
		t.Errorf("%q and %v, want what was heard and %v", told(heard.Readings), err, sensors.ErrUnplugged)
	}
}

// A wire on which everything comes and goes, held against what the package says
// of it.
func TestNoUnitStarvesAnother(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "units")
		every := rapid.SampledFrom([]time.Duration{100 * ms, time.Second, 3 * time.Second, time.Minute}).Draw(t, "every")
		timeout := rapid.SampledFrom([]time.Duration{50 * ms, 300 * ms, time.Second}).Draw(t, "time-out")
		config, link := many(n, every, timeout)
		d, err := New(config)
		if err != nil {
			t.Fatal(err)
		}
		for unit := byte(1); unit <= byte(n); unit++ {
			if rapid.IntRange(0, 3).Draw(t, "listens") == 0 {
				link.listens[unit] = true
			}
		}
		// One that answers is read in each round, but for the time that those take
		// which have just fallen mute.
		mostGap := every + time.Duration(n+2)*timeout
		// One that comes back is asked within 5 s, or a time-out, and a round, and its
		// turn among those that stay mute.
		mostAway := askAgainWithin + 2*every + time.Duration(n)*(timeout+every)
		if len(link.listens) > 0 { // what was not heard behind a silence is as good as away
			mostAway += time.Duration(n) * timeout * 2
			mostGap = mostAway
		}
		heardAt, back := map[byte]time.Duration{}, map[byte]time.Duration{}
		for range rapid.IntRange(1, 8).Draw(t, "changes") {
			for unit := byte(1); unit <= byte(n); unit++ {
				was := link.answers[unit]
				link.answers[unit] = rapid.SampledFrom([]time.Duration{0, ms, timeout / 10}).Draw(t, "answers after")
				if link.answers[unit] > 0 && was == 0 {
					back[unit] = link.now
				}
			}
			for range rapid.IntRange(1, 40).Draw(t, "rounds") {
				began := link.now
				heard, took, err := link.run(d)
				if err != nil {
					t.Fatal(err)
				}
				if took > max(budgetTimeouts*timeout, min(every, longestRound))+2*timeout {
					t.Fatalf("an exchange took %v", took)
				}
				for _, r := range heard.Readings {
					var unit byte
					fmt.Sscan(r.Channel, &unit)
					if gap := r.At - heardAt[unit]; heardAt[unit] > back[unit] && gap > mostGap {
						t.Fatalf("unit %d answers, and was not heard for %v before %v", unit, gap, r.At)
					}
					heardAt[unit] = r.At
				}
				for unit, after := range link.answers {
					if away := began - max(heardAt[unit], back[unit]); after > 0 && away > mostAway {
						t.Fatalf("unit %d answers, and has not been heard for %v", unit, away)
					}
				}
			}
		}
		for unit, asked := range link.asked {
			for i, at := range asked[1:] {
				if slices.Contains(link.unanswered[unit], asked[i]) && at < asked[i]+2*timeout {
					t.Fatalf("unit %d, mute at %v, is asked again at %v, when its answer may yet come", unit, asked[i], at)
				}
			}
		}
	})
}
