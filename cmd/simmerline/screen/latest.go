package screen

import (
	"strings"
	"time"

	"simmerline/hub"
	"simmerline/hub/bench"
	"simmerline/rules"
	"simmerline/sensors"
)

// latestLines tell what happened last, the newest first. They say what was and
// never what to do: that may have changed since.
func (d drawing) latestLines() []line {
	if len(d.latest) == 0 {
		return nil
	}
	lines := []line{heading(rankLatest, " LATEST", "")}
	for i := len(d.latest) - 1; i >= 0; i-- {
		a := d.latest[i]
		l := text(rankLatest, plainInk, " "+clockTime(a.Wall, d.options.Zone)+"  "+d.brief(a))
		lines = append(lines, l)
	}
	return lines
}

// brief is an announcement without what to do.
func (d drawing) brief(a hub.Announcement) string {
	var t string
	switch {
	case a.Alarm != nil:
		e := a.Alarm
		what := shortSubject(d.snapshot.View, e.Subject, e.Trigger.Channel)
		if f := figureText(e.Trigger.Value, d.units()); f != "" && e.Cause != rules.CauseReset {
			what += " " + f
		}
		t = strings.ToUpper(e.Priority.String()) + " " + causeWords(*e) + ": " + what + why(e.Why)
	case a.Notice != nil:
		t = noticeWords(*a.Notice, d.units())
	}
	if a.Recorded == hub.RecordedNo {
		t += " (not recorded yet)"
	}
	return Printable(t)
}

func causeWords(e rules.Event) string {
	by := ""
	if e.By != "" {
		by = " by " + e.By
	}
	switch e.Cause {
	case rules.CauseSuppressed:
		return "kept quiet by design"
	case rules.CauseUnsuppressed:
		return "no longer kept quiet"
	default:
		return e.Cause.String() + by
	}
}

func why(word string) string {
	if word == "" {
		return ""
	}
	return " (“" + word + "”)"
}

func noticeWords(n hub.Notice, units bench.Units) string {
	if n.Kind != hub.NoticeMark {
		return inUnits(n.Text, units)
	}
	if n.By == "" {
		return "mark: " + n.Text
	}
	return "mark by " + n.By + ": " + n.Text
}

// tag is the word before a line: what kind of thing it tells.
func tag(word string) string { return word + strings.Repeat(" ", max(8-len(word), 1)) }

// Line tells an announcement as one line: when, what kind, what is so and, for
// an alarm, what to do as of then.
func Line(a hub.Announcement, units Units, state *hub.Snapshot, zone *time.Location) string {
	in := units.of(state)
	word, t := "NOTICE", ""
	switch {
	case a.Alarm != nil:
		word, t = alarmLineWords(*a.Alarm)
	case a.Notice != nil:
		t = noticeWords(*a.Notice, in)
		switch a.Notice.Kind {
		case hub.NoticeMark:
			word, t = "MARK", strings.TrimPrefix(t, "mark ")
		case hub.NoticeSessionStarted, hub.NoticeSessionEnded:
			word = "SESSION"
		case hub.NoticeStarted, hub.NoticeGap, hub.NoticeClockStepped:
			word = "HUB"
		}
	}
	if a.Recorded == hub.RecordedNo {
		t += " (not recorded yet)"
	}
	return clockTime(a.Wall, zone) + "  " + tag(word) + Printable(inUnits(t, in))
}

func alarmLineWords(e rules.Event) (word, t string) {
	word = strings.ToUpper(e.Priority.String())
	switch e.Cause {
	case rules.CauseRaised:
		return word, e.Sentence
	case rules.CauseSoundsAgain:
		return word, "Sounds again. " + e.Sentence
	case rules.CauseWorsened:
		return word, "Worse. " + e.Sentence
	case rules.CauseCleared:
		return "CLEARED", e.Sentence
	case rules.CauseAcknowledged:
		return "ACK", "By " + e.By + why(e.Why) + ": " + e.Sentence
	case rules.CauseReset:
		return "RESET", "By " + e.By + why(e.Why) + ": " + e.Sentence
	default:
		return "QUIET", causeWords(e) + ": " + e.Subject
	}
}

// Tell is a line of the viewer's own beside those of the hub, with the hub's
// time of the state that is known.
func Tell(state *hub.Snapshot, word, text string, zone *time.Location) string {
	at := time.Time{}
	if state != nil {
		at = state.Wall
	}
	return clockTime(at, zone) + "  " + tag(word) + Printable(text)
}

// Summary tells a state as one line: the one word, every bath, every gas, and
// the hood's airflow.
func Summary(s *hub.Snapshot, units Units, zone *time.Location) string {
	in := units.of(s)
	var baths, gases, others []string
	for _, b := range s.View.Baths {
		t := Printable(b.Title()) + " " + summaryNumber(b.Reading, in)
		if b.HasTrend && figureText(b.Reading.Value, in) != "" {
			if trend := trendWords(perMinute(b.PerMinute, in)); trend != "steady" {
				t += " " + trend + "/min"
			}
		}
		baths = append(baths, t)
	}
	for _, c := range s.View.Channels {
		if closed, known := c.Reading.Value.Closed(); c.Airflow {
			switch {
			case !known:
				others = append(others, Printable(c.Title())+" not known")
			case closed:
				others = append(others, Printable(c.Title())+" proved")
			default:
				others = append(others, Printable(c.Title())+" NOT PROVED")
			}
		} else if len(c.Setpoints) > 0 || c.Gas != 0 {
			gases = append(gases, gasName(c)+" "+summaryNumber(c.Reading, in))
		}
	}
	if words := protectionWords(s.Protection.Missing, s.View); !s.Protection.Complete && words != "" {
		others = append(others, "not protecting yet: "+words)
	}
	var parts []string
	for _, group := range [][]string{baths, gases, others} {
		if len(group) > 0 {
			parts = append(parts, strings.Join(group, ", "))
		}
	}
	return clockTime(s.Wall, zone) + "  " + tag(s.View.Advice.Headline.String()) + strings.Join(parts, " · ")
}

// summaryNumber is a number for a summary, or why there is none.
func summaryNumber(r sensors.Reading, units bench.Units) string {
	t := figureText(r.Value, units)
	words := qualityWords(r)
	switch {
	case t == "":
		return "no number (" + words + ")"
	case words != "":
		return t + " (" + words + ")"
	default:
		return t
	}
}
