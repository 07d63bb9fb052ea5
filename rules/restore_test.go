package rules

import (
	"math"
	"strings"
	"testing"
	"time"
)

// An age that can't be true does not put an alarm's clock into the future, from
// which it would never sound again.
func TestAbsurdAgesStillSoundAgain(t *testing.T) {
	for _, age := range []time.Duration{0, -time.Hour, math.MaxInt64, math.MinInt64} {
		e := newRig(t, small()).engine
		data := `{"version":1,"alarms":[{"name":"fume-h2s-danger","state":"unacknowledged","active":true,
			"sounded_ago_ns":9223372036854775807,"acknowledged_ago_ns":-9223372036854775808}]}`
		if _, err := e.Restore([]byte(data), age, 0); err != nil {
			t.Fatal(err)
		}
		r := &rig{t: t, engine: e}
		r.feed(2 * time.Second)
		if len(r.events) == 0 || r.events[0].Cause != CauseSoundsAgain {
			t.Errorf("age %v: it does not sound again", age)
		}
	}
}

// What is missing from a saved state means a bench in use.
func TestNothingSavedMeansInUse(t *testing.T) {
	e := newRig(t, small()).engine
	if _, err := e.Restore([]byte(`{"version":1}`), 0, 0); err != nil {
		t.Fatal(err)
	}
	if !e.InUse() {
		t.Error("the bench is put away, though nobody has said so")
	}
}

// Nothing in this program shelves or retires, so nothing would ever bring back
// an alarm that was restored shelved.
func TestShelvedAlarmComesBackFromARestart(t *testing.T) {
	for _, state := range []string{"shelved", "out_of_service"} {
		r := newRig(t, small())
		data := `{"version":1,"alarms":[{"name":"fume-h2s-danger","state":"` + state + `"}]}`
		if _, err := r.engine.Restore([]byte(data), 0, 0); err != nil {
			t.Fatal(err)
		}
		r.feed(2*time.Second, but(calm(20), ppm("h2s", 9))...)
		r.want("fume-h2s-danger", Unacknowledged)
	}
}

// A hub that restarts every few seconds still raises what takes ten.
func TestDelayBeforeRaisingOutlivesARestart(t *testing.T) {
	r := newRig(t, small())
	for range 4 {
		r.feed(4*time.Second, but(calm(20), ppm("h2s", 2))...)
		r.restart(small(), 0, 0)
	}
	r.feed(time.Second, but(calm(20), ppm("h2s", 2))...)
	r.want("fume-h2s-warning", Unacknowledged)
}

// How long the hub was dark is still known after a second, short restart.
func TestDarknessKeepsItsLength(t *testing.T) {
	r := newRig(t, small())
	r.feed(5*time.Second, calm(60)...)
	r.restart(small(), 4*time.Minute, 4*time.Minute)
	r.feed(2*time.Second, calm(60)...)
	r.restart(small(), 0, 0)
	r.feed(2*time.Second, calm(60)...)
	if got := r.engine.says(r.engine.alarm("hub-was-dark"), false).Means; !strings.HasPrefix(got, "off for 4 minutes") {
		t.Errorf("it says %q", got)
	}
}

// An alarm that is on between restart and first reading still says what it is
// about.
func TestRestoredAlarmKeepsItsSubject(t *testing.T) {
	r := newRig(t, small())
	r.feed(20*time.Second, calm(92)...)
	r.restart(small(), 0, 0)
	r.events = nil
	_ = r.command(Acknowledge, "pot-danger", "")
	if len(r.events) == 0 {
		t.Fatal("no event")
	}
	if got := r.events[0].Trigger; got.Bath != "pot" || !got.HasSetpoint || got.Setpoint != 90 {
		t.Errorf("the event's trigger is %+v", got)
	}
}

func TestRestoreRefusesGarbageInWords(t *testing.T) {
	for _, garbage := range []string{"", "null", "{}", "[]", "{", `{"version":99}`, `{"version":1} {}`, `{"version":1,"alarms":7}`, "\x00"} {
		e := newRig(t, small()).engine
		_, err := e.Restore([]byte(garbage), time.Hour, time.Hour)
		if err == nil || !strings.HasPrefix(err.Error(), "rules: the saved alarms ") {
			t.Errorf("%q: got %v", garbage, err)
		}
	}
}
