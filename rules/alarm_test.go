package rules

import (
	"strings"
	"testing"

	"simmerline/sensors/sensorstest"
)

// The transitions and states are those of ANSI/ISA-18.2-2016 and IEC 62682 as
// told in testdata/reference/alarm_isa18.csv, which says that its transition
// rows are from memory: a lead and a record of what we hold ourselves to, not
// proof of the standard's text.
const alarmTable = "../testdata/reference/alarm_isa18.csv"

// move is one row of the table: an event with the situation in which it holds.
type move struct {
	sig signal
	in  situation
}

// moves reads the event column of the reference table.
var moves = map[string][]move{
	"condition becomes true":                    {{conditionTrue, situation{active: true}}, {conditionTrue, situation{active: true, latching: true}}},
	"acknowledge":                               {{acknowledge, situation{}}, {acknowledge, situation{latching: true}}},
	"condition clears (not latching)":           {{conditionFalse, situation{}}},
	"condition clears (latching)":               {{conditionFalse, situation{latching: true}}},
	"re-alarm (timer, rate or higher severity)": {{reAlarm, situation{active: true}}},
	"reset":            {{reset, situation{latching: true}}},
	"operator shelves": {{shelve, situation{}}, {shelve, situation{active: true}}},
	"timer ends or operator unshelves, condition true":  {{unshelve, situation{active: true}}},
	"timer ends or operator unshelves, condition false": {{unshelve, situation{}}},
	"design rule suppresses":                            {{suppress, situation{}}, {suppress, situation{active: true}}},
	"rule ends, condition true":                         {{unsuppress, situation{active: true}}},
	"rule ends, condition false":                        {{unsuppress, situation{}}},
	"maintenance takes out of service":                  {{retire, situation{}}, {retire, situation{active: true}}},
	"returned to service, condition true":               {{restore, situation{active: true}}},
	"returned to service, condition false":              {{restore, situation{}}},
}

var shownStates = []State{
	Normal, Unacknowledged, Acknowledged, RTNUnacknowledged, LatchedUnacknowledged, LatchedAcknowledged,
}

func TestLifeFollowsTheReferenceTable(t *testing.T) {
	rows := 0
	_, table := sensorstest.Reference(t, alarmTable)
	for _, row := range table {
		if row[0] != "transition" {
			continue
		}
		rows++
		events, known := moves[row[2]]
		if !known {
			t.Fatalf("the table has an event that this test does not know: %q", row[2])
		}
		to, ok := ParseState(row[3])
		if !ok {
			t.Fatalf("the table has a state that we do not: %q", row[3])
		}
		from := shownStates
		if row[1] != "any of the above" {
			state, ok := ParseState(row[1])
			if !ok {
				t.Fatalf("the table has a state that we do not: %q", row[1])
			}
			from = []State{state}
		}
		for _, f := range from {
			for _, m := range events {
				if got := f.next(m.sig, m.in); got != to {
					t.Errorf("%s, %s %+v: got %s, want %s", f, row[2], m.in, got, to)
				}
			}
		}
	}
	if rows != 24 {
		t.Errorf("read %d transitions of the table, want 24", rows)
	}
}

func TestStatesAreTheTablesAndSoundAsItSays(t *testing.T) {
	seen := 0
	_, table := sensorstest.Reference(t, alarmTable)
	for _, row := range table {
		if row[0] != "state" {
			continue
		}
		seen++
		state, ok := ParseState(row[1])
		if !ok {
			t.Fatalf("the table has a state that we do not: %q", row[1])
		}
		if want := strings.HasPrefix(row[3], "sounding"); state.Sounds() != want {
			t.Errorf("%s: Sounds() is %v, the table says %q", state, state.Sounds(), row[3])
		}
	}
	if seen != len(States) {
		t.Errorf("the table has %d states, we have %d", seen, len(States))
	}
}

// Every state with every signal in every situation: the life never leaves the
// known states, and its invariants hold.
func TestLifeKeepsItsInvariants(t *testing.T) {
	for _, from := range States {
		for sig := conditionTrue; sig <= restore; sig++ {
			for bits := range 8 {
				in := situation{active: bits&1 != 0, latching: bits&2 != 0, hiddenTrue: bits&4 != 0}
				to := from.next(sig, in)
				if _, ok := ParseState(to.String()); !ok {
					t.Fatalf("%s on %d leads nowhere: %d", from, sig, to)
				}
				if again := to.next(sig, in); sig != acknowledge && sig != reset && again != to && !to.hidden() && !from.hidden() {
					t.Errorf("%s on %d twice: %s, then %s", from, sig, to, again)
				}
				if from.Sounds() && !to.Sounds() && sig == conditionTrue {
					t.Errorf("%s: a true condition silenced it", from)
				}
				if from == OutOfService && sig != restore && to != OutOfService {
					t.Errorf("out of service ended by %d", sig)
				}
				if sig == conditionFalse && in.latching && (from == Unacknowledged || from == Acknowledged) && to == Normal {
					t.Errorf("%s: a latching alarm cleared without a reset", from)
				}
			}
		}
	}
}

func TestLatchingAlarmThatWasTrueWhileHiddenComesBack(t *testing.T) {
	in := situation{latching: true, hiddenTrue: true}
	for from, sig := range map[State]signal{Shelved: unshelve, SuppressedByDesign: unsuppress, OutOfService: restore} {
		if got := from.next(sig, in); got != LatchedUnacknowledged {
			t.Errorf("%s: got %s, want %s", from, got, LatchedUnacknowledged)
		}
	}
}
