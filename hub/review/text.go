package review

import (
	"fmt"
	"io"
	"strings"
	"time"

	"simmerline/sensors"
)

// Text writes the summary for people, with wall times in the given place.
func (s Summary) Text(w io.Writer, place *time.Location) error {
	t := &text{place: place}
	t.heading(s)
	for _, b := range s.Baths {
		t.bath(b)
	}
	if len(s.Gases) > 0 {
		t.line("")
		t.line("Gases, at the fume head, not worn:")
	}
	for _, g := range s.Gases {
		t.gas(g)
	}
	t.line("")
	t.alarms(s.Alarms)
	if len(s.Marks) > 0 {
		t.line("")
		t.line("Marks:")
	}
	for _, m := range s.Marks {
		t.line("  %s  %s%s", t.clock(m.At), m.Text, by(m.By))
	}
	t.missing(s)
	t.line("")
	t.line("An aid, not a certified gas detector. Limits are for adult workers.")
	_, err := io.WriteString(w, t.String())
	return err
}

// text gathers lines.
type text struct {
	strings.Builder
	place *time.Location
}

func (t *text) line(format string, args ...any) {
	fmt.Fprintf(t, format+"\n", args...)
}

func (t *text) clock(p Point) string { return p.Wall.In(t.place).Format("15:04:05") }

func (t *text) heading(s Summary) {
	from, until := s.From.Wall.In(t.place), s.Until.Wall.In(t.place)
	end := until.Format("15:04")
	if until.YearDay() != from.YearDay() || until.Year() != from.Year() {
		end = until.Format("2 January 2006 15:04")
	}
	when := from.Format("2 January 2006 15:04") + " to " + end
	if s.Session == nil {
		t.line("%s, %s", when, length(s.LengthSeconds))
	} else {
		t.line("%s (session %d): %s, %s", s.Session.Name, s.Session.ID, when, length(s.LengthSeconds))
		t.line("started %s%s, %s", s.Session.StartedHow, by(s.Session.StartedBy), ended(s.Session))
	}
	if s.DarkSeconds > 0 {
		t.line("The hub was dark for %s of it.", length(s.DarkSeconds))
	}
	t.line("")
	t.line("Baths:")
}

func ended(s *Session) string {
	if s.EndedHow == "" {
		return "still open"
	}
	return "ended " + s.EndedHow + by(s.EndedBy)
}

func by(who string) string {
	if who == "" {
		return ""
	}
	return " (" + who + ")"
}

func (t *text) bath(b Bathed) {
	t.line("  %s", b.Title)
	if b.MeanCelsius == nil {
		t.line("    no trusted temperature")
	} else {
		t.line("    least %v, mean %v, most %v", sensors.Celsius(*b.LeastCelsius), sensors.Celsius(*b.MeanCelsius), sensors.Celsius(*b.MostCelsius))
	}
	if b.TimeInRangeSeconds != nil {
		t.line("    in range (%g to %g °C) %s", *b.RangeLowCelsius, *b.RangeHighCelsius, length(*b.TimeInRangeSeconds))
	}
	if b.TimeOverLimitSeconds != nil {
		t.line("    over the limit (%v) %s", sensors.Celsius(*b.LimitCelsius), length(*b.TimeOverLimitSeconds))
	}
	t.line("    no trusted value %s", length(b.NoTrustedValueSeconds))
}

func (t *text) gas(g Gassed) {
	t.line("  %s", g.Title)
	if g.MeanPPM == nil {
		t.line("    no trusted level")
	} else {
		t.line("    least %v, mean %v, most %v", sensors.PPM(*g.LeastPPM), sensors.PPM(*g.MeanPPM), sensors.PPM(*g.MostPPM))
	}
	if g.TimeOverLimitSeconds != nil {
		t.line("    over the limit (%v) %s", sensors.PPM(*g.LimitPPM), length(*g.TimeOverLimitSeconds))
	}
	if g.TimeOverRangeSeconds > 0 {
		t.line("    over its range %s: the level was higher than it can measure", length(g.TimeOverRangeSeconds))
	}
	t.line("    no trusted value %s", length(g.NoTrustedValueSeconds))
}

func (t *text) alarms(alarms []Alarm) {
	if len(alarms) == 0 {
		t.line("No alarm was raised.")
		return
	}
	t.line("Alarms:")
	for _, a := range alarms {
		raised := "before"
		if a.Raised != nil {
			raised = t.clock(*a.Raised)
		}
		t.line("  %s  %s, %s: %s", raised, a.Alarm, a.Priority, a.Sentence)
		switch {
		case a.Acknowledged == nil:
			t.line("    not acknowledged")
		case a.AcknowledgedWhy != "":
			t.line("    acknowledged %s%s: %s", t.clock(*a.Acknowledged), by(a.AcknowledgedBy), a.AcknowledgedWhy)
		default:
			t.line("    acknowledged %s%s", t.clock(*a.Acknowledged), by(a.AcknowledgedBy))
		}
		if a.Cleared != nil {
			t.line("    cleared %s", t.clock(*a.Cleared))
		}
		if a.Reset != nil {
			t.line("    reset %s%s", t.clock(*a.Reset), by(a.ResetBy))
		}
		if a.Stands {
			t.line("    still standing at the end")
		}
	}
}

// missing says what the record does not hold.
func (t *text) missing(s Summary) {
	if len(s.Dark)+len(s.Gaps) == 0 {
		return
	}
	t.line("")
	t.line("Missing:")
	for _, d := range s.Dark {
		what := "the hub was not running"
		if d.Slept {
			what = "the hub's machine slept"
		}
		t.line("  %s to %s  %s for %s", t.clock(d.From), t.clock(d.Until), what, length(d.Seconds))
	}
	for _, g := range s.Gaps {
		t.line("  %s to %s  %s: %d readings and %d events were not kept", t.clock(g.From), t.clock(g.Until), g.Why, g.Readings, g.Events)
	}
}

// length gives a length of time in words: "12 min 30 s".
func length(seconds float64) string {
	d := time.Duration(seconds * float64(time.Second)).Round(time.Second)
	hours, minutes, secs := int(d.Hours()), int(d.Minutes())%60, int(d.Seconds())%60
	switch {
	case seconds > 0 && d == 0:
		return "less than 1 s"
	case hours > 0:
		return fmt.Sprintf("%d h %d min", hours, minutes)
	case minutes > 0 && secs > 0:
		return fmt.Sprintf("%d min %d s", minutes, secs)
	case minutes > 0:
		return fmt.Sprintf("%d min", minutes)
	default:
		return fmt.Sprintf("%d s", secs)
	}
}
