package rules

import (
	"testing"
	"time"

	"simmerline/sensors"
)

// withRules is a bench with rules of its own besides the built-in ones.
func withRules(setup Setup, rules ...Rule) Setup {
	for i := range rules {
		if rules[i].Priority == PriorityUnspecified {
			rules[i].Priority = Danger
		}
		if rules[i].Class == ClassUnspecified {
			rules[i].Class = EverythingElse
		}
	}
	setup.Rules = append(setup.Rules, rules...)
	return setup
}

// Hiding a latched alarm does not reset it.
func TestHidingALatchedAlarmDoesNotResetIt(t *testing.T) {
	r := newRig(t, withRules(small(), Rule{
		Name: "cold-latch", Any: []Condition{{Kind: Above, Bath: "pot", Setpoint: 30}},
		Latching: true, WhileInUse: true,
	}))
	r.feed(5*time.Second, calm(35)...)
	r.feed(5*time.Second, calm(20)...)
	r.want("cold-latch", LatchedUnacknowledged)
	if err := r.command(PutAway, "", ""); err != nil {
		t.Fatal(err)
	}
	r.feed(5*time.Second, calm(20)...)
	r.want("cold-latch", SuppressedByDesign)
	if err := r.command(TakeIntoUse, "", ""); err != nil {
		t.Fatal(err)
	}
	r.feed(5*time.Second, calm(20)...)
	r.want("cold-latch", LatchedUnacknowledged)
}

// The loss of a port speaks for its channels only where it calls as loudly and
// as soon as they would.
func TestPortSpeaksOnlyForWhatCallsNoLouder(t *testing.T) {
	lost := Rule{Name: "hot-gone", Any: []Condition{{Kind: Lost, Channel: "hot"}}, OnDelay: 2 * time.Second, OffDelay: 2 * time.Second}
	slow := Rule{Name: "bath-wire-port-lost", Any: []Condition{{Kind: PortLost, Port: "bath-wire"}}, Priority: Warning, OnDelay: 10 * time.Minute}
	quiet := slow
	quiet.Priority, quiet.OnDelay = Caution, 2*time.Second
	for name, setup := range map[string]Setup{
		"danger under warning":    withRules(studio(), lost),
		"warning under caution":   withRules(studio(), quiet),
		"soon under much later":   withRules(studio(), slow),
		"built in, nothing to do": studio(),
	} {
		t.Run(name, func(t *testing.T) {
			r := newRig(t, setup)
			r.feed(5*time.Second, celsius("hot", 22), celsius("cool", 22))
			_ = r.step(Input{Ports: []PortChange{{Port: "bath-wire", Gone: true}}})
			r.feed(5 * time.Second)
			loudest := PriorityUnspecified
			for _, a := range r.engine.View().Alarms {
				of := a.Trigger.Port == "bath-wire" || a.Trigger.Channel == "hot" || a.Trigger.Channel == "cool"
				if of && a.State.Sounds() {
					loudest = max(loudest, a.Priority)
				}
			}
			want := Warning
			if name == "danger under warning" {
				want = Danger
			}
			if loudest != want {
				t.Errorf("sounds %s, want %s", loudest, want)
			}
		})
	}
}

// Put away hides neither gas nor heat, whatever the rule about it says.
func TestPutAwayHidesNeitherGasNorHeat(t *testing.T) {
	for name, c := range map[string]struct {
		readings []sensors.Reading
		alarm    string
	}{
		"gas":        {but(calm(20), ppm("h2s", 6)), "fume-h2s-danger"},
		"little gas": {but(calm(20), ppm("h2s", 1.5)), "fume-h2s-warning"},
		"over range": {but(calm(20), bad("h2s", sensors.ReasonOverRange)), "fume-h2s-danger"},
		"heat":       {calm(91), "pot-danger"},
	} {
		t.Run(name, func(t *testing.T) {
			setup := small()
			for _, d := range Defaults(setup) {
				d.WhileInUse = true // the most that a bench file could ask for
				setup.Rules = append(setup.Rules, d)
			}
			r := newRig(t, setup)
			r.feed(5*time.Second, calm(20)...)
			if err := r.command(PutAway, "", ""); err != nil {
				t.Fatal(err)
			}
			r.feed(15*time.Second, c.readings...)
			if r.want(c.alarm, Unacknowledged); !r.engine.InUse() {
				t.Error("the bench is still put away")
			}
		})
	}
}

// A caution that is true does not speak before a fume alarm that still sounds.
func TestCautionDoesNotMaskALatchedDanger(t *testing.T) {
	r := newRig(t, small())
	r.feed(5*time.Second, but(calm(20), ppm("h2s", 9))...)
	r.feed(3*time.Minute, calm(20)...)
	r.want("fume-h2s-danger", LatchedUnacknowledged)
	r.feed(10*time.Second, but(calm(20), good("flow", sensors.Contact, 1), doubtful("h2s", sensors.GasLevel, 0, sensors.ReasonSettling))...)
	r.want("fume-head-not-ready", Unacknowledged)
	if a := r.engine.View().Advice; a.Alarm != "fume-h2s-danger" {
		t.Errorf("%s speaks: %s", a.Alarm, a.Sentence)
	}
}

// What is latched and unacknowledged sounds again when it is left alone, like
// anything else that is unacknowledged.
func TestLatchedAlarmLeftAloneSoundsAgain(t *testing.T) {
	r := newRig(t, small())
	r.feed(5*time.Second, but(calm(20), ppm("h2s", 9))...)
	r.feed(12*time.Minute, calm(20)...)
	again := 0
	for _, e := range r.events {
		if e.Alarm == "fume-h2s-danger" && e.Cause == CauseSoundsAgain {
			again++
		}
	}
	if again != 2 {
		t.Errorf("it sounded again %d times in 12 minutes, want 2", again)
	}
}

// One alarm over two cells: the second cell's rise is not hidden by the
// acknowledge of the first's, nor by what was shown while nothing was known.
func TestAcknowledgeCoversOnlyWhatWasSeen(t *testing.T) {
	setup := small()
	setup.Channels = append(setup.Channels, Channel{Name: "so2", Port: "head", Quantity: sensors.GasLevel, Gas: sensors.SulfurDioxide})
	setup = withRules(setup, Rule{Name: "either", Class: FumeDanger, Any: []Condition{
		{Kind: Above, Channel: "h2s", Setpoint: 5}, {Kind: Above, Channel: "so2", Setpoint: 5},
	}})
	r := newRig(t, setup)
	r.feed(5*time.Second, but(calm(20), ppm("h2s", 6))...)
	_ = r.command(Acknowledge, "either", "")
	r.feed(5*time.Second, append(but(calm(20), ppm("h2s", 6)), ppm("so2", 6))...)
	r.want("either", Unacknowledged)
	_ = r.command(Acknowledge, "either", "")
	r.feed(5*time.Second, append(but(calm(20), ppm("h2s", 6)), ppm("so2", 8))...)
	r.want("either", Acknowledged)
	r.feed(5*time.Second, append(but(calm(20), ppm("h2s", 6)), ppm("so2", 9.1))...)
	r.want("either", Unacknowledged)

	r = newRig(t, small())
	r.feed(5*time.Second, but(calm(20), ppm("h2s", 6))...)
	r.feed(20*time.Second, without(calm(20), "h2s")...)
	_ = r.command(Acknowledge, "fume-h2s-danger", "") // while nothing is known
	r.want("fume-h2s-danger", Acknowledged)
	r.feed(2*time.Second, but(calm(20), ppm("h2s", 500))...)
	r.want("fume-h2s-danger", Unacknowledged)
}

// A bath alarm about cold is not made worse by warming.
func TestWorseMeansFurtherOverTheSetpoint(t *testing.T) {
	r := newRig(t, withRules(small(), Rule{Name: "cold", Priority: Warning,
		Any: []Condition{{Kind: Outside, Bath: "pot", SetpointLow: 20, Setpoint: 80}}}))
	r.feed(5*time.Second, calm(10)...)
	_ = r.command(Acknowledge, "cold", "")
	r.feed(5*time.Second, calm(16)...)
	r.want("cold", Acknowledged)
}
