package main

import (
	"simmerline/hub/review"
	"simmerline/rules"
)

// footing says what the figures are and are not, and what is to be remembered
// when the work is done.
func (t *reviewed) footing() {
	t.part("NOT KNOWN is the time with no trusted value, times in which the hub was not running included.")
	t.line("Gas levels are those where the fume head hangs, not what anybody breathed; limits are for adult workers.")
	t.line(aidNotDetector)
	t.line("")
	if t.fumesStand() {
		t.line("A fume alarm still stood at the end of this. Nobody goes back until the level has stayed below its clearing")
		t.line("point for the stated time: 'simmerline alarm list' says how it stands now.")
		return
	}
	if t.back.Session.EndedHow == "" {
		return
	}
	t.line("A spent sulfide bath is never neutralised with acid, never mixed with soda, bleach or peroxide, and not poured")
	t.line("down a drain: keep it covered, ventilated and labelled, and go by its safety data sheet and the local waste")
	t.line("authority. Rinse between pickle and sulfide, and before the soda. Bleach never meets ammonia or acid.")
}

// fumesStand says whether, at the end, an alarm stood that keeps people away.
func (t *reviewed) fumesStand() bool {
	for _, a := range t.back.Alarms {
		if a.Stands && keepsAway(a) {
			return true
		}
	}
	return false
}

func keepsAway(a review.Alarm) bool {
	for _, class := range rules.Classes {
		if class.String() == a.Class {
			return class.KeepsAway()
		}
	}
	return false
}
