package rules

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"simmerline/sensors"
)

var update = flag.Bool("update", false, "rewrite the expected transcripts; commit only a difference you can explain")

// TestScenarios runs every file of testdata/rules. A file holds commands, then
// a line "----", then the transcript that they must give:
//
//	at 90s            go on to that offset, a step each second; channels that
//	                  are held are read at each of them
//	hold hot 68       read this value at each step from now on
//	hold h2s bad over-range | uncertain 85 power-on-value
//	drop hot          no longer read it
//	ramp hot 91 60s   let the held value move there, evenly, over that time
//	gone bath-wire    the port has gone; back bath-wire
//	ack NAME by WHO, reset NAME by WHO, put-away by WHO, use by WHO
//	facts can-call | cannot-call | record-fails WHY
//	restart 4m        save, make a new engine, restore after that long in the dark
//	say               print what is said now
func TestScenarios(t *testing.T) {
	files, err := filepath.Glob("../testdata/rules/*.txt")
	if err != nil || len(files) == 0 {
		t.Fatalf("no scenarios found: %v", err)
	}
	for _, path := range files {
		t.Run(strings.TrimSuffix(filepath.Base(path), ".txt"), func(t *testing.T) { runScenario(t, path) })
	}
}

func runScenario(t *testing.T, path string) {
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	script, want, _ := strings.Cut(string(text), "----\n")
	s := newScript(t)
	for i, line := range strings.Split(script, "\n") {
		if line = strings.TrimSpace(line); line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		if err := s.do(strings.Fields(line)); err != nil {
			t.Fatalf("%s:%d: %v", path, i+1, err)
		}
	}
	got := s.out.String()
	if *update {
		if err := os.WriteFile(path, []byte(script+"----\n"+got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if got != want {
		t.Errorf("%s: got\n%s\nwant\n%s", path, got, want)
	}
}

// studio is the bench of the scenarios: that of the invented workshop.
func studio() Setup {
	temperature := func(name, label, port string) Channel {
		return Channel{Name: name, Label: label, Port: port, Quantity: sensors.Temperature}
	}
	gas := func(name string, g sensors.Gas) Channel {
		return Channel{Name: name, Port: "fume-head", Quantity: sensors.GasLevel, Gas: g, Noise: 0.05}
	}
	return Setup{
		Boiling: 94.6, BoilingFrom: "altitude 1609 m",
		Channels: []Channel{
			temperature("hot", "hot probe", "bath-wire"), temperature("cool", "cool probe", "bath-wire"),
			temperature("hot-twin", "hot twin", "hot-transmitter"),
			temperature("soda", "soda probe", "bench-board"), temperature("rinse", "rinse probe", "bench-board"),
			gas("h2s", sensors.HydrogenSulfide), gas("so2", sensors.SulfurDioxide), gas("nh3", sensors.Ammonia),
			{Name: "airflow", Port: "fume-head", Quantity: sensors.Contact, Airflow: true},
		},
		Baths: []Bath{
			{Name: "hot-sulfide", Label: "hot sulfide", Kind: BathSulfide, Probes: []string{"hot", "hot-twin"}, RangeLow: 55, RangeHigh: 75},
			{Name: "cool-sulfide", Label: "cool sulfide", Kind: BathSulfide, Probes: []string{"cool"}, RangeLow: 15, RangeHigh: 30},
			{Name: "soda", Kind: BathSoda, Probes: []string{"soda"}, RangeLow: 20, RangeHigh: 40},
			{Name: "rinse", Kind: BathRinse, Probes: []string{"rinse"}},
		},
	}
}

// held is what a channel reads from now on.
type held struct {
	value, target, perSecond float64
	quality                  sensors.Quality
	reason                   sensors.Reason
}

type script struct {
	t      *testing.T
	engine *Engine
	now    time.Duration
	order  []string
	held   map[string]*held
	out    strings.Builder
}

func newScript(t *testing.T) *script {
	s := &script{t: t, held: make(map[string]*held)}
	for _, c := range studio().Channels {
		s.order = append(s.order, c.Name)
		value := 22.0
		switch c.Quantity {
		case sensors.GasLevel:
			value = 0
		case sensors.Contact:
			value = 1
		}
		s.held[c.Name] = &held{value: value, target: value, quality: sensors.QualityGood}
	}
	s.engine = s.fresh()
	return s
}

func (s *script) fresh() *Engine {
	engine, err := New(studio(), s.now)
	if err != nil {
		s.t.Fatal(err)
	}
	return engine
}

func (s *script) do(words []string) error {
	rest := strings.Join(words[1:], " ")
	name, by, _ := strings.Cut(rest, " by ")
	switch words[0] {
	case "at":
		return s.goTo(rest)
	case "hold":
		return s.hold(words[1], words[2:])
	case "ramp":
		target, err := strconv.ParseFloat(words[2], 64)
		if err != nil {
			return err
		}
		over, err := time.ParseDuration(words[3])
		h := s.held[words[1]]
		h.target, h.perSecond = target, (target-h.value)/over.Seconds()
		return err
	case "drop":
		delete(s.held, rest)
	case "gone", "back":
		s.step(Input{Ports: []PortChange{{Port: rest, Gone: words[0] == "gone"}}})
	case "ack":
		s.step(Input{Command: &Command{Kind: Acknowledge, Alarm: name, By: by}})
	case "reset":
		s.step(Input{Command: &Command{Kind: Reset, Alarm: name, By: by}})
	case "put-away":
		s.step(Input{Command: &Command{Kind: PutAway, By: strings.TrimPrefix(rest, "by ")}})
	case "use":
		s.step(Input{Command: &Command{Kind: TakeIntoUse, By: strings.TrimPrefix(rest, "by ")}})
	case "slept":
		s.step(Input{Slept: true})
	case "facts":
		facts := Facts{CanCall: words[1] == "can-call"}
		if words[1] == "record-fails" {
			facts = Facts{CanCall: true, RecordFails: strings.Join(words[2:], " ")}
		}
		s.step(Input{Facts: &facts})
	case "restart":
		return s.restart(rest)
	case "say":
		a := s.engine.View().Advice
		fmt.Fprintf(&s.out, "%s  says %s: %s\n", clockFace(s.now), a.Headline, a.Sentence)
	default:
		return fmt.Errorf("unknown command %q", words[0])
	}
	return nil
}

func (s *script) hold(name string, words []string) error {
	h := &held{quality: sensors.QualityGood}
	for _, q := range sensors.Qualities {
		if words[0] == q.String() {
			h.quality = q
			words = words[1:]
		}
	}
	for _, w := range words {
		if v, err := strconv.ParseFloat(w, 64); err == nil {
			h.value, h.target = v, v
			continue
		}
		for _, r := range sensors.Reasons {
			if strings.ReplaceAll(r.String(), " ", "-") == w {
				h.reason = r
			}
		}
		if h.reason == sensors.ReasonNone {
			return fmt.Errorf("no such reason: %q", w)
		}
	}
	s.held[name] = h
	return nil
}

func (s *script) goTo(offset string) error {
	to, err := time.ParseDuration(offset)
	if err != nil {
		return err
	}
	for s.now < to {
		s.now += time.Second
		var in Input
		for _, name := range s.order {
			if h := s.held[name]; h != nil {
				in.Readings = append(in.Readings, h.next(name, s.now))
			}
		}
		s.step(in)
	}
	return nil
}

func (h *held) next(name string, now time.Duration) sensors.Reading {
	h.value += h.perSecond
	if (h.perSecond > 0) == (h.value > h.target) {
		h.value, h.perSecond = h.target, 0
	}
	r := sensors.Reading{Channel: name, At: now, Raw: h.value, Quality: h.quality, Reason: h.reason}
	if h.quality != sensors.QualityBad {
		for _, c := range studio().Channels {
			if c.Name == name {
				r.Value = sensors.MustValue(c.Quantity, h.value)
			}
		}
	}
	return r
}

func (s *script) step(in Input) {
	events, err := s.engine.Step(s.now, in)
	for _, e := range events {
		who := ""
		if e.By != "" {
			who = " by " + e.By
		}
		fmt.Fprintf(&s.out, "%s  %s %s: %s -> %s%s (%s, first-out %d)\n      %s\n",
			clockFace(s.now), e.Alarm, e.Cause, e.From, e.To, who, e.Priority, e.FirstOut, e.Sentence)
	}
	if err != nil {
		fmt.Fprintf(&s.out, "%s  refused: %v\n", clockFace(s.now), err)
	}
}

func (s *script) restart(dark string) error {
	d, err := time.ParseDuration(dark)
	if err != nil {
		return err
	}
	saved, err := s.engine.Saved()
	if err != nil {
		return err
	}
	s.now = 0
	s.engine = s.fresh()
	dropped, err := s.engine.Restore(saved, d, d)
	for _, name := range dropped {
		fmt.Fprintf(&s.out, "dropped %s\n", name)
	}
	return err
}

func clockFace(d time.Duration) string {
	return fmt.Sprintf("%02d:%02d", int(d.Minutes()), int(d.Seconds())%60)
}
