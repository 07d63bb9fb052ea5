package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"simmerline/hub"
	"simmerline/hub/record"
	"simmerline/hub/review"
	"simmerline/rules"
	"simmerline/sensors"
)

// reviewText is a look back for people.
func reviewText(back hub.LookBack) string {
	t := &reviewed{back: back}
	t.heading()
	t.baths()
	t.gases()
	t.alarms()
	t.marks()
	t.missing()
	t.footing()
	return t.String()
}

// reviewed gathers the lines of a look back.
type reviewed struct {
	strings.Builder
	back hub.LookBack
}

func (t *reviewed) line(format string, args ...any) { fmt.Fprintf(t, format+"\n", args...) }

// part begins a part with its own heading.
func (t *reviewed) part(format string, args ...any) {
	t.line("")
	t.line(format, args...)
}

func (t *reviewed) rows(rows table, right ...int) {
	for _, line := range rows.lines(right...) {
		t.line("  %s", line)
	}
}

func (t *reviewed) clock(p review.Point) string { return timeAfter(t.back.From.Wall, p.Wall) }

func (t *reviewed) heading() {
	b := t.back
	s := b.Session
	t.line("%s: session %d, %q", b.Bench, s.ID, s.Name)
	until := "it is still open, and this is how far it has come"
	switch {
	case s.EndedBy != "":
		until = s.EndedBy + " ended it"
	case s.EndedHow == string(record.ByPowerLoss):
		until = "it ended when the hub went off"
	case s.EndedHow != "":
		until = "it ended by itself, as every bath was cool"
	}
	began := "It began by itself, as a bath warmed"
	if s.StartedBy != "" {
		began = s.StartedBy + " started it"
	}
	t.line("%s to %s, %s. %s; %s.", dayTime(b.From.Wall), t.clock(b.Until), spell(b.LengthSeconds), began, until)
	if b.DarkSeconds > 0 {
		t.line("For %s of it the hub was not running: nothing was measured and nobody was called.", spell(b.DarkSeconds))
	}
	if b.BenchChanged {
		t.line("The bench file was changed meanwhile: names, ranges and limits are those of the last.")
	}
}

// spell gives a length in words.
func spell(seconds float64) string { return lasting(time.Duration(seconds * float64(time.Second))) }

// figure gives a figure to the digits that it deserves, and a dash for none.
func figure(number *float64, show func(float64) string) string {
	if number == nil {
		return "-"
	}
	text, _, _ := strings.Cut(show(*number), " ") // the head of the table has the unit
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-") // what rounds to nothing has no sign
	}
	return text
}

// degrees shows a temperature in the bench's units.
func (t *reviewed) degrees(c float64) string {
	return unitsOf(t.back.Fahrenheit).Temperature(sensors.Celsius(c))
}

func (t *reviewed) baths() {
	if len(t.back.Baths) == 0 {
		return
	}
	unit := "°C"
	if t.back.Fahrenheit {
		unit = "°F"
	}
	t.part("Baths, %s", unit)
	rows := table{{"", "LEAST", "MEAN", "MOST", "RANGE", "IN RANGE", "LINE", "AT OR OVER IT", "NOT KNOWN"}}
	for _, b := range t.back.Baths {
		inRange, span, over := "-", "-", "-"
		if b.TimeInRangeSeconds != nil {
			inRange = spell(*b.TimeInRangeSeconds)
			span = figure(b.RangeLowCelsius, t.degrees) + " to " + figure(b.RangeHighCelsius, t.degrees)
		}
		if b.TimeOverLimitSeconds != nil {
			over = spell(*b.TimeOverLimitSeconds)
		}
		rows = append(rows, []string{
			b.Title, figure(b.LeastCelsius, t.degrees), figure(b.MeanCelsius, t.degrees), figure(b.MostCelsius, t.degrees),
			span, inRange, figure(b.LimitCelsius, t.degrees), over, spell(b.NoTrustedValueSeconds),
		})
	}
	t.rows(rows, 1, 2, 3, 4, 5, 6, 7, 8)
	var whose []string
	for _, b := range t.back.Baths {
		if b.LimitCelsius != nil {
			whose = append(whose, fmt.Sprintf("The line at %s: %s.", t.degrees(*b.LimitCelsius), t.back.LimitFrom[b.Bath]))
		}
	}
	t.each(whose)
}

// each writes lines that may say the same, each once.
func (t *reviewed) each(lines []string) {
	for i, line := range lines {
		if !slices.Contains(lines[:i], line) {
			t.line("  %s", line)
		}
	}
}

func (t *reviewed) gases() {
	if len(t.back.Gases) == 0 {
		return
	}
	ppm := func(level float64) string { return sensors.PPM(level).String() }
	t.part("Gases at the fume head, not worn, ppm")
	rows := table{{"", "LEAST", "MEAN", "MOST", "DANGER FROM", "AT OR OVER IT", "OVER RANGE", "NOT KNOWN"}}
	for _, g := range t.back.Gases {
		over := "-"
		if g.TimeOverLimitSeconds != nil {
			over = spell(*g.TimeOverLimitSeconds)
		}
		rows = append(rows, []string{
			gasTitle(g), figure(g.LeastPPM, ppm), figure(g.MeanPPM, ppm), figure(g.MostPPM, ppm),
			figure(g.LimitPPM, ppm), over, spell(g.TimeOverRangeSeconds), spell(g.NoTrustedValueSeconds),
		})
	}
	t.rows(rows, 1, 2, 3, 4, 5, 6, 7)
	var whose []string
	for _, g := range t.back.Gases {
		if g.LimitPPM != nil {
			whose = append(whose, fmt.Sprintf("Danger of %s from %s: %s.", gasTitle(g), ppm(*g.LimitPPM), t.back.LimitFrom[g.Channel]))
		}
		if g.TimeOverRangeSeconds > 0 {
			whose = append(whose, fmt.Sprintf("For %s there was more %s than the cell can measure, and so more than the figure for the most.",
				spell(g.TimeOverRangeSeconds), gasTitle(g)))
		}
	}
	t.each(whose)
}

// gasTitle names a gas channel by its gas where it has no better label.
func gasTitle(g review.Gassed) string {
	if gas, known := sensors.ParseGas(g.Gas); known && g.Title == g.Channel && gas != sensors.OtherGas {
		return gas.Title()
	}
	return g.Title
}

func (t *reviewed) alarms() {
	if len(t.back.Alarms) == 0 {
		t.part("No alarm was raised.")
		return
	}
	t.part("Alarms")
	rows := table{{"RAISED", "TRUE FOR", "PRIORITY", "ALARM", "WHAT WAS SO"}}
	for _, a := range t.back.Alarms {
		raised := "before"
		if a.Raised != nil {
			raised = t.clock(*a.Raised)
		}
		rows = append(rows, []string{raised, t.trueFor(a), a.Priority, a.Alarm, whatWasSo(a.Sentence)})
	}
	for i, line := range rows.lines() {
		t.line("  %s", line)
		if i > 0 {
			t.became(t.back.Alarms[i-1])
		}
	}
}

// trueFor says for how long an alarm's condition was true.
func (t *reviewed) trueFor(a review.Alarm) string {
	switch {
	case a.Cleared == nil && a.Stands:
		return "till the end"
	case a.Cleared == nil:
		return "-"
	case a.Raised == nil:
		return "till " + t.clock(*a.Cleared)
	case a.Raised.Run == a.Cleared.Run:
		return spell(a.Cleared.OffsetSeconds - a.Raised.OffsetSeconds)
	default:
		return lasting(max(0, a.Cleared.Wall.Sub(a.Raised.Wall)))
	}
}

// became says what people did about an alarm, and whether it still stood.
func (t *reviewed) became(a review.Alarm) {
	var said []string
	switch {
	case a.Acknowledged != nil:
		text := fmt.Sprintf("acknowledged %s by %s", t.clock(*a.Acknowledged), a.AcknowledgedBy)
		if a.AcknowledgedWhy != "" {
			text += fmt.Sprintf(" (%s)", a.AcknowledgedWhy)
		}
		said = append(said, text)
	case a.Priority == rules.Caution.String(): // asks for none
	case a.Raised == nil: // somebody may have, before
		said = append(said, "not acknowledged since the session began")
	default:
		said = append(said, "never acknowledged")
	}
	if a.Reset != nil {
		said = append(said, fmt.Sprintf("reset %s by %s", t.clock(*a.Reset), a.ResetBy))
	}
	if a.Stands && a.Cleared != nil {
		said = append(said, "still standing at the end")
	}
	if len(said) > 0 {
		t.line("            %s", strings.Join(said, "; "))
	}
}

// whatWasSo takes from what an alarm said the part that tells what was so. What
// it asked for was for that moment, and must send nobody to the bench now.
func whatWasSo(sentence string) string {
	what, _, _ := strings.Cut(sentence, ". ")
	return strings.TrimSuffix(what, ".")
}

func (t *reviewed) marks() {
	if len(t.back.Marks) == 0 {
		return
	}
	t.part("Marks")
	var rows table
	for _, m := range t.back.Marks {
		rows = append(rows, []string{t.clock(m.At), m.By, m.Text})
	}
	t.rows(rows)
}

// missing says what the record does not hold.
func (t *reviewed) missing() {
	if len(t.back.Dark)+len(t.back.Gaps) == 0 {
		return
	}
	t.part("Not measured, or not kept")
	for _, d := range t.back.Dark {
		what := "the hub was not running"
		if d.Slept {
			what = "the hub's machine slept"
		}
		t.line("  %s to %s  %s for %s", t.clock(d.From), t.clock(d.Until), what, spell(d.Seconds))
	}
	for _, g := range t.back.Gaps {
		t.line("  %s to %s  %s and %s were lost: %s", t.clock(g.From), t.clock(g.Until),
			counted(int(g.Readings), "reading"), counted(int(g.Events), "event"), g.Why)
	}
}
