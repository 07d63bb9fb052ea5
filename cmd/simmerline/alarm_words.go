package main

import (
	"simmerline/hub/bench"
	"simmerline/rules"
)

// stateWords gives an alarm's state in the standard's terms, and who
// acknowledged it.
func stateWords(a rules.AlarmView) string {
	by := ""
	if a.By != "" {
		by = " by " + a.By
	}
	switch a.State {
	case rules.Normal:
		return "normal"
	case rules.Unacknowledged:
		return "unacknowledged"
	case rules.Acknowledged:
		return "acknowledged" + by
	case rules.RTNUnacknowledged:
		return "returned to normal, unacknowledged"
	case rules.LatchedUnacknowledged:
		return "latched, unacknowledged"
	case rules.LatchedAcknowledged:
		return "latched, acknowledged" + by
	case rules.Shelved:
		return "shelved"
	case rules.SuppressedByDesign:
		return "suppressed by design"
	case rules.OutOfService:
		return "out of service"
	default:
		return "in a state this program does not know"
	}
}

// stateMeans says what a state means for the person who reads it.
func stateMeans(a rules.AlarmView) string {
	sounds := "it sounds until somebody acknowledges"
	if a.Priority < rules.Warning {
		sounds = "it makes no sound"
	}
	switch a.State {
	case rules.Normal:
		return "nothing is left to do about it"
	case rules.Unacknowledged:
		return sounds
	case rules.Acknowledged:
		return "quiet, and its condition is still true"
	case rules.RTNUnacknowledged:
		return "quiet, its condition has cleared, and nobody has acknowledged"
	case rules.LatchedUnacknowledged:
		return "its condition has cleared, and " + sounds
	case rules.LatchedAcknowledged:
		return "quiet, its condition has cleared, and it stands until it is reset"
	default:
		return "kept quiet on purpose"
	}
}

// sentence is what an alarm says, with its temperature as the bench wants it.
func sentence(s rules.Saying, units bench.Units) string {
	if t, is := s.Figure.Celsius(); is {
		return s.SentenceWith(units.Temperature(t))
	}
	return s.Sentence()
}

// unitsOf gives the units in which a bench wants temperatures shown.
func unitsOf(fahrenheit bool) bench.Units {
	if fahrenheit {
		return bench.Fahrenheit
	}
	return bench.Celsius
}
