package main

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"
)

// table is rows of columns for people, the first row the heads.
type table [][]string

// lines aligns the columns: those numbered in right to the right, as figures
// are, the others to the left. The last column takes what room it needs, and no
// line ends in blanks.
func (t table) lines(right ...int) []string {
	var widths []int
	for _, row := range t {
		for i, cell := range row {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	ahead := make(map[int]bool)
	for _, column := range right {
		ahead[column] = true
	}
	var all []string
	for _, row := range t {
		line := ""
		for i, cell := range row {
			blanks := strings.Repeat(" ", widths[i]-utf8.RuneCountInString(cell))
			if ahead[i] {
				line += blanks + cell + "  "
			} else {
				line += cell + blanks + "  "
			}
		}
		all = append(all, strings.TrimRight(line, " "))
	}
	return all
}

// text is the lines, each with its end.
func (t table) text(right ...int) string {
	return strings.Join(t.lines(right...), "\n") + "\n"
}

// printJSON prints one value as indented JSON.
func printJSON(c console, value any) error {
	encoder := json.NewEncoder(c.Out)
	encoder.SetIndent("", "  ")
	encoder.SetEscapeHTML(false)
	if err := encoder.Encode(value); err != nil {
		return fmt.Errorf("can't print the answer: %w", err)
	}
	return nil
}

// stamp gives a time for programs: RFC 3339 in UTC, to the millisecond; "" for
// none.
func stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format("2006-01-02T15:04:05.000Z07:00")
}

// clockTime gives a time of day for people, where they are.
func clockTime(t time.Time) string { return t.Local().Format("15:04:05") }

// dayTime gives date and time of day for people, where they are.
func dayTime(t time.Time) string { return t.Local().Format("2006-01-02 15:04:05") }

// timeAfter gives a time for people, with its date where that is not the one of
// the time before.
func timeAfter(before, t time.Time) string {
	a, b := before.Local(), t.Local()
	if a.Year() == b.Year() && a.YearDay() == b.YearDay() {
		return clockTime(t)
	}
	return dayTime(t)
}

// lasting gives a length of time for people, in at most two units: "42 s",
// "3 min 20 s", "2 h 5 min".
func lasting(d time.Duration) string {
	if d > 0 && d < time.Second {
		return "under 1 s"
	}
	d = d.Round(time.Second)
	h, m, s := int(d/time.Hour), int(d/time.Minute)%60, int(d/time.Second)%60
	switch {
	case h > 0 && m > 0:
		return fmt.Sprintf("%d h %d min", h, m)
	case h > 0:
		return fmt.Sprintf("%d h", h)
	case m > 0 && s > 0:
		return fmt.Sprintf("%d min %d s", m, s)
	case m > 0:
		return fmt.Sprintf("%d min", m)
	default:
		return fmt.Sprintf("%d s", s)
	}
}
