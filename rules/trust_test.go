package rules

import (
	"testing"
	"time"

	"simmerline/sensors"
)

// After a restart nothing has been heard: that neither finds what was lost nor
// says that it protects.
func TestNotHeardYetClearsNothing(t *testing.T) {
	setup := small()
	r := newRig(t, setup)
	r.feed(20*time.Second, but(without(calm(80), "a"), bad("h2s", sensors.ReasonDeviceFault))...)
	r.want("a-lost", Unacknowledged)
	r.want("fume-head-lost", Unacknowledged)
	r.restart(setup, 0, 0)
	r.feed(9*time.Second, without(calm(80), "a", "h2s")...)
	r.want("a-lost", Unacknowledged)
	r.want("fume-head-lost", Unacknowledged)
	for _, e := range r.events {
		if e.Cause == CauseCleared && (e.Alarm == "a-lost" || e.Alarm == "fume-head-lost") {
			t.Errorf("%s cleared at %v though nothing was heard", e.Alarm, e.At)
		}
	}
}

func TestPortNotHeardYetClearsNothing(t *testing.T) {
	r := newScript(t)
	engine := &rig{t: t, engine: r.engine}
	engine.feed(20 * time.Second)
	engine.want("bath-wire-port-lost", Unacknowledged)
	engine.restart(studio(), 0, 0)
	engine.feed(8 * time.Second)
	engine.want("bath-wire-port-lost", Unacknowledged)
}

// A cell beyond its range while it warms up is still only warming up: it is
// not lost, and its level is not taken for danger.
func TestBeyondRangeWhileWarmingUpIsNotLost(t *testing.T) {
	r := newRig(t, small())
	r.feed(20*time.Second, but(calm(80), bad("h2s", sensors.ReasonWarmingUp))...)
	r.want("fume-head-warming", Unacknowledged)
	r.want("fume-head-lost", Normal)
	r.want("fume-h2s-danger", Normal)
	if !r.engine.View().Advice.KeepAway {
		t.Error("somebody may be asked to the bench while nothing protects")
	}
}

// An airflow contact that can't be trusted proves no airflow.
func TestUncertainAirflowIsNoAirflow(t *testing.T) {
	r := newRig(t, small())
	r.feed(20*time.Second, but(calm(80), doubtful("flow", sensors.Contact, 1, sensors.ReasonStuck))...)
	r.want("airflow-lost", Unacknowledged)
}

// An airflow contact that is not heard while the bench is cool is told before
// anybody heats a bath.
func TestLostAirflowContactIsToldWhileCool(t *testing.T) {
	r := newRig(t, small())
	r.feed(30*time.Second, without(calm(20), "flow")...)
	stands := false
	for _, a := range r.engine.View().Alarms {
		for _, c := range r.engine.alarm(a.Name).conditions {
			stands = stands || a.State.Stands() && c.channel != nil && c.channel.Name == "flow"
		}
	}
	if !stands {
		t.Error("no alarm stands over the airflow contact")
	}
	if got := r.engine.Sounding(); got != PriorityUnspecified {
		t.Errorf("it sounds as %s, want silence while no bath is hot", got)
	}
}

// A probe that talks every half minute is heard, may raise and clear, and has
// its bath forecast like any other.
func TestSlowProbeWorks(t *testing.T) {
	setup := small()
	for i := range setup.Channels {
		setup.Channels[i].SilentAfter = 90 * time.Second
	}
	r := newRig(t, setup)
	value := 40.0
	for range 60 * 20 {
		r.now += time.Second
		var in Input
		if r.now%(30*time.Second) == 0 {
			value += 1.25 // 2.5 K a minute
			for _, reading := range calm(value) {
				reading.At = r.now
				in.Readings = append(in.Readings, reading)
			}
		}
		_ = r.step(in)
	}
	var warned, lost bool
	for _, e := range r.events {
		switch {
		case e.Alarm == "a-lost":
			lost = true
		case e.Alarm == "pot-warning" && e.Cause == CauseRaised && !warned:
			warned = true
			if c := e.Trigger.Value.Number(); c >= 85 || c < 75 {
				t.Errorf("the forecast came at %.1f °C, want some minutes ahead of 90", c)
			}
		}
	}
	if !warned || lost {
		t.Errorf("warned %v, lost %v; want a warning and nothing lost", warned, lost)
	}
}

// Sulfur dioxide that rose beside a hot bath is not below its clearing point
// because the bath has cooled meanwhile.
func TestScorchAlarmDoesNotClearByCooling(t *testing.T) {
	r := newScript(t)
	s := &rig{t: t, engine: r.engine}
	readings := []sensors.Reading{celsius("hot", 80), ppm("so2", 0.8)}
	s.feed(10*time.Second, readings...)
	s.want("scorched-bath", Unacknowledged)
	s.feed(5*time.Minute, celsius("hot", 20), ppm("so2", 0.8))
	s.want("scorched-bath", Unacknowledged)
	s.feed(5*time.Minute, celsius("hot", 20), ppm("so2", 0.1))
	s.want("scorched-bath", LatchedUnacknowledged)
}
