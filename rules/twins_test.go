package rules

import (
	"testing"
	"time"

	"simmerline/sensors"
)

// The probe in a bath over its line dies, and its twin lies on the table: the
// twin's room temperature neither clears the danger nor cools the bath.
func TestTwinThatNeverAgreedClearsNothing(t *testing.T) {
	r := newRig(t, small())
	r.feed(20*time.Second, but(calm(92), celsius("b", 22))...)
	r.want("pot-danger", Unacknowledged)
	r.feed(10*time.Minute, but(calm(22), bad("a", sensors.ReasonOpenCircuit))...)
	r.want("pot-danger", Unacknowledged)
	if !r.engine.AnyHot() {
		t.Error("the bath counts as cool")
	}
	for _, e := range r.events {
		if e.Alarm == "pot-danger" && e.At > 30*time.Second && e.Trigger.Value.Known() {
			t.Errorf("%v: the twin's figure is shown for the bath: %s", e.At, e.Sentence)
		}
	}
	// The probe is mended, and shows that the bath has cooled.
	r.feed(time.Minute, calm(22)...)
	r.want("pot-danger", RTNUnacknowledged)
	if r.engine.AnyHot() {
		t.Error("the bath still counts as hot")
	}
}

// A twin that never agreed may still raise.
func TestTwinThatNeverAgreedMayRaise(t *testing.T) {
	r := newRig(t, small())
	r.feed(20*time.Second, but(calm(60), celsius("b", 22))...)
	r.feed(20*time.Second, but(calm(22), bad("a", sensors.ReasonOpenCircuit))...)
	r.feed(20*time.Second, but(calm(95), bad("a", sensors.ReasonOpenCircuit))...)
	r.want("pot-danger", Unacknowledged)
	// Having come up to where the other was, it speaks for the bath.
	r.feed(time.Minute, but(calm(70), bad("a", sensors.ReasonOpenCircuit))...)
	r.want("pot-danger", RTNUnacknowledged)
}

// A twin that agreed carries on.
func TestTwinThatAgreedCarriesOn(t *testing.T) {
	r := newRig(t, small())
	r.feed(20*time.Second, but(calm(91), celsius("b", 88))...)
	r.want("pot-danger", Unacknowledged)
	r.feed(time.Minute, but(calm(80), bad("a", sensors.ReasonOpenCircuit))...)
	r.want("pot-danger", RTNUnacknowledged)
	r.feed(time.Minute, but(calm(30), bad("a", sensors.ReasonOpenCircuit))...)
	if r.engine.AnyHot() {
		t.Error("the bath counts as hot, though the twin that agreed says that it is cool")
	}
}

// Twins a little apart that take turns make no trend of their own.
func TestChangeOfTwinsMakesNoTrend(t *testing.T) {
	r := newRig(t, small())
	r.feed(3*time.Minute, but(calm(80), celsius("b", 76))...)
	r.feed(40*time.Second, but(calm(76), bad("a", sensors.ReasonOpenCircuit))...)
	r.feed(2*time.Minute, but(calm(80), celsius("b", 76))...)
	for _, e := range r.events {
		if e.Alarm == "pot-warning" {
			t.Errorf("at %v: %s", e.At, e.Sentence)
		}
	}
}

// Both probes are lost while the bath is in danger: it stays in danger, and hot,
// and says why it shows no figure.
func TestBothTwinsLostInDanger(t *testing.T) {
	r := newRig(t, small())
	r.feed(20*time.Second, calm(92)...)
	r.feed(20*time.Minute, without(calm(0), "a", "b")...)
	r.want("pot-danger", Unacknowledged)
	if !r.engine.AnyHot() {
		t.Error("the bath counts as cool")
	}
	if got, want := r.engine.says(r.engine.alarm("pot-danger"), false).Sentence(), "Pot: over its line (silent). Turn the hot plate down now."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// A bath whose only probe died hot stays hot; a person's word ends that.
func TestBathWithoutAProbeIsPutAwayOnAPersonsWord(t *testing.T) {
	r := newRig(t, small())
	r.feed(20*time.Second, calm(60)...)
	r.feed(time.Hour, without(calm(0), "a", "b")...)
	if !r.engine.AnyHot() {
		t.Fatal("the bath counts as cool")
	}
	if err := r.command(PutAway, "", ""); err == nil {
		t.Error("put away without a word on a bath that nobody knows to be cool")
	}
	if err := r.command(PutAway, "", "23 °C by a hand thermometer"); err != nil {
		t.Fatal(err)
	}
	r.feed(time.Minute, without(calm(0), "a", "b")...)
	if r.engine.AnyHot() || r.engine.InUse() {
		t.Errorf("hot %v, in use %v; want a cool bench that is put away", r.engine.AnyHot(), r.engine.InUse())
	}
	// A word is not believed against a thermometer.
	r.feed(10*time.Second, calm(60)...)
	if err := r.command(PutAway, "", "I think that it is cool"); err == nil {
		t.Error("put away with a bath at 60 °C")
	}
}

// Below 40 °C a bath may be put away, even one that was hot until just now.
func TestPutAwayBelowForty(t *testing.T) {
	r := newRig(t, small())
	r.feed(20*time.Second, calm(60)...)
	r.feed(20*time.Second, calm(39.5)...)
	if err := r.command(PutAway, "", ""); err != nil {
		t.Fatal(err)
	}
	r.feed(5*time.Second, calm(39.5)...)
	if r.engine.InUse() {
		t.Error("the bench came back into use below 40 °C")
	}
	r.feed(2*time.Second, calm(40)...)
	if !r.engine.InUse() {
		t.Error("heat did not end it")
	}
}
