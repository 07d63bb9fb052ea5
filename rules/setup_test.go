package rules

import (
	"math"
	"strings"
	"testing"
	"time"

	"simmerline/sensors"
)

// Each of these setups would run into silence or nonsense, and is refused with
// the word that tells what is wrong.
func TestNewRefusesWhatCantProtect(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	cases := map[string]struct {
		spoil func(*Setup)
		says  string
	}{
		"boiling point not a number": {func(s *Setup) { s.Boiling = sensors.Celsius(nan) }, "boiling point"},
		"noise not a number":         {func(s *Setup) { s.Channels[2].Noise = sensors.PPM(nan) }, "noise"},
		"noise endless":              {func(s *Setup) { s.Channels[2].Noise = sensors.PPM(inf) }, "noise"},
		"noise negative":             {func(s *Setup) { s.Channels[2].Noise = -1 }, "noise"},
		"silence negative":           {func(s *Setup) { s.Channels[0].SilentAfter = -time.Second }, "silent"},
		"no quantity":                {func(s *Setup) { s.Channels[0].Quantity = sensors.QuantityUnspecified }, "quantity"},
		"re-alarm negative":          {func(s *Setup) { s.ReAlarmAfter = -1 }, "again"},
		"gas in a bath":              {func(s *Setup) { s.Baths[0].Probes = []string{"h2s"} }, "temperature"},
		"one probe twice":            {func(s *Setup) { s.Baths[0].Probes = []string{"a", "a"} }, "twice"},
		"range not a number":         {func(s *Setup) { s.Baths[0].RangeHigh = sensors.Celsius(nan) }, "range"},
		"endless deadband":           {func(s *Setup) { *s = withRules(*s, rule(Condition{Kind: Above, Bath: "pot", Setpoint: 30}, inf)) }, "deadband"},
		"lower edge not a number": {func(s *Setup) {
			*s = withRules(*s, rule(Condition{Kind: Outside, Bath: "pot", Setpoint: 30, SetpointLow: nan}, 0))
		}, "lower edge"},
		"deadband fills the band": {func(s *Setup) {
			*s = withRules(*s, rule(Condition{Kind: Outside, Bath: "pot", Setpoint: 30, SetpointLow: 20}, 5))
		}, "never clear"},
		"contact without a contact": {func(s *Setup) { *s = withRules(*s, rule(Condition{Kind: ContactOpen, Channel: "a"}, 0)) }, "contact"},
		"over range of no gas":      {func(s *Setup) { *s = withRules(*s, rule(Condition{Kind: OverRange, Channel: "a"}, 0)) }, "gas"},
		"stuck at nothing":          {func(s *Setup) { *s = withRules(*s, rule(Condition{Kind: Stuck, Channel: "a", Window: time.Minute}, 0)) }, "more than 0"},
		"no such port":              {func(s *Setup) { *s = withRules(*s, rule(Condition{Kind: PortLost, Port: "nowhere"}, 0)) }, "port"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			setup := small()
			c.spoil(&setup)
			_, err := New(setup, 0)
			if err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("got %v, want an error that says %q", err, c.says)
			}
		})
	}
	if _, err := New(small(), 0); err != nil {
		t.Errorf("the unspoiled setup is refused: %v", err)
	}
}

func rule(c Condition, deadband float64) Rule {
	return Rule{Name: "own", Any: []Condition{c}, Deadband: deadband}
}

// A label in any script begins a sentence without breaking a letter in two.
func TestSentencesAreWholeLetters(t *testing.T) {
	for subject, want := range map[string]string{
		"ätzbad": "Ätzbad: over its line.", "湯": "湯: over its line.", "ß": "ß: over its line.", "pot": "Pot: over its line.",
	} {
		if got := (Saying{Subject: subject, Means: "over its line"}).Sentence(); got != want && !(subject == "ß" && got == "ẞ: over its line.") {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func TestInWords(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "0 seconds", -time.Minute: "0 seconds", time.Second: "1 second", 59600 * time.Millisecond: "1 minute",
		61 * time.Second: "1 minute 1 second", time.Hour: "1 hour", 3599600 * time.Millisecond: "1 hour",
		25*time.Hour + time.Minute: "25 hours 1 minute",
	} {
		if got := InWords(d); got != want {
			t.Errorf("%v: got %q, want %q", d, got, want)
		}
	}
}
