package screen

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"simmerline/hub/bench"
	"simmerline/rules"
	"simmerline/sensors"
)

// standing gives the alarms that stand in the order in which they are to be
// said: the one that speaks in the hub's own advice is the first.
func standing(v rules.View) []rules.AlarmView {
	var alarms []rules.AlarmView
	for _, a := range v.Alarms {
		if a.State.Stands() {
			alarms = append(alarms, a)
		}
	}
	slices.SortStableFunc(alarms, func(a, b rules.AlarmView) int {
		switch {
		case a.Before(b):
			return -1
		case b.Before(a):
			return 1
		}
		return 0
	})
	return alarms
}

// alarmLines lists the standing alarms, at most so many, and names those that
// are kept quiet.
func (d drawing) alarmLines(most int) []line {
	v := d.snapshot.View
	alarms := standing(v)
	var lines []line
	if len(alarms) > 0 {
		lines = append(lines, heading(rankAlarm, " ALARMS", "  the first to be dealt with on top; # is the order in which they came"))
	}
	for i, a := range alarms {
		if i == most-1 && len(alarms) > most {
			lines = append(lines, text(rankAlarm, strongInk, fmt.Sprintf(" and %d more", len(alarms)-i)))
			break
		}
		lines = append(lines, d.alarmRows(a)...)
	}
	var quiet []string
	for _, a := range v.Alarms {
		if a.State != rules.Normal && !a.State.Stands() {
			quiet = append(quiet, Printable(a.Name)+" ("+stateWords(a)+")")
		}
	}
	if len(quiet) > 0 {
		lines = append(lines, text(rankStatus, plainInk, " kept quiet: "+strings.Join(quiet, ", ")))
	}
	return lines
}

// narrowWidth is up to where an alarm needs two rows.
const narrowWidth = 70

// alarmRows are one alarm: its priority in a tab, which came how many-th, since
// when, what is so, and who has done what about it.
func (d drawing) alarmRows(a rules.AlarmView) []line {
	l := line{rank: rankAlarm}
	l.add(" ", plainInk)
	i := priorityInk(a.Priority)
	if !a.Active {
		i = strongInk // over: it only waits for somebody
	}
	l.add(cell(" "+strings.ToUpper(a.Priority.String()), 9), i)
	l.add(fmt.Sprintf(" %-3s ", rankWords(a.FirstOut)), plainInk)
	l.add(clockTime(d.wallAt(a.RaisedAt), d.options.Zone)+"  ", plainInk)
	words, state := alarmWords(d.snapshot.View, a, d.units()), stateWords(a)
	if a.ClearsIn > 0 {
		state += ", clears in " + countdown(a.ClearsIn)
	}
	if d.width <= narrowWidth {
		l.add(state, plainInk)
		return []line{l, text(rankAlarm, strongInk, "   "+words)}
	}
	stateWidth := min(len([]rune(state)), 44)
	l.add(cell(words, d.width-l.width()-stateWidth-3), strongInk)
	l.add("  "+cell(state, stateWidth), plainInk)
	return []line{l}
}

func rankWords(n int) string {
	if n < 1 {
		return ""
	}
	return fmt.Sprintf("#%d", n)
}

func priorityInk(p rules.Priority) ink {
	switch p {
	case rules.Danger:
		return dangerInk
	case rules.Warning:
		return warningInk
	default:
		return strongInk
	}
}

// alarmWords say what is so, without what to do: that is said once, on top.
func alarmWords(v rules.View, a rules.AlarmView, units bench.Units) string {
	s := a.Saying
	s.Subject, s.Do = shortSubject(v, s.Subject, a.Trigger.Channel), ""
	sentence := s.SentenceWith(figureText(s.Figure, units))
	return strings.TrimSuffix(Printable(inUnits(sentence, units)), ".")
}

// shortSubject calls a gas by its formula, where a line must be short.
func shortSubject(v rules.View, subject, channel string) string {
	for _, c := range v.Channels {
		if c.Name == channel && c.Quantity == sensors.GasLevel && c.Gas != sensors.OtherGas {
			if strings.Contains(subject, c.Gas.Title()) {
				return c.Gas.Formula()
			}
		}
	}
	return subject
}

// stateWords say where an alarm stands and who has done something about it.
func stateWords(a rules.AlarmView) string {
	by := ""
	if name := Printable(a.By); name != "" {
		by = " by " + name
	}
	switch a.State {
	case rules.Acknowledged:
		return "acknowledged" + by
	case rules.RTNUnacknowledged:
		return "cleared, unacknowledged"
	case rules.LatchedUnacknowledged:
		return "latched, unacknowledged"
	case rules.LatchedAcknowledged:
		return "latched, acknowledged" + by
	default:
		return strings.ReplaceAll(a.State.String(), "_", " ")
	}
}

// wallAt is what the hub's clock showed at an offset of its run.
func (d drawing) wallAt(at time.Duration) time.Time {
	if d.snapshot.Wall.IsZero() {
		return time.Time{}
	}
	return d.snapshot.Wall.Add(at - d.snapshot.View.At)
}
