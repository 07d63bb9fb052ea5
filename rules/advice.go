package rules

import (
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"simmerline/sensors"
)

// Headline is the one word of the far view.
type Headline uint8

// The headlines. There is none for 'safe': nobody can know that.
const (
	HeadlineNoAlarm Headline = iota
	HeadlineLook
	HeadlineHot
	HeadlineLeave
)

// Headlines lists every headline, for tables and tests.
var Headlines = []Headline{HeadlineNoAlarm, HeadlineLook, HeadlineHot, HeadlineLeave}

// String gives the word itself.
func (h Headline) String() string {
	switch h {
	case HeadlineLook:
		return "LOOK"
	case HeadlineHot:
		return "HOT"
	case HeadlineLeave:
		return "LEAVE"
	default:
		return "NO ALARM"
	}
}

// Saying is what is said of one alarm at one moment, in its parts, so that a
// screen may show the figure in a unit of the reader's choice.
type Saying struct {
	Subject string        // "hot sulfide"
	Figure  sensors.Value // the figure that governs, none where there is none
	Means   string        // "over its line"
	Do      string        // "Turn the hot plate down now."
}

// because adds the reason to what is so.
func (s *Saying) because(reason string) { s.Means = strings.TrimSpace(s.Means + " (" + reason + ")") }

// Sentence puts the parts together, with temperatures in °C.
func (s Saying) Sentence() string {
	figure := ""
	if s.Figure.Known() && s.Figure.Quantity() != sensors.Contact {
		figure = s.Figure.String()
	}
	return s.SentenceWith(figure)
}

// SentenceWith puts the parts together around a figure as the reader wants it,
// or none where it is empty.
func (s Saying) SentenceWith(figure string) string {
	var parts []string
	if s.Subject != "" {
		parts = append(parts, capital(s.Subject))
	}
	if figure != "" {
		parts = append(parts, figure)
	}
	text := strings.Join(parts, " ")
	switch {
	case s.Means == "":
	case text == "":
		text = capital(s.Means)
	case figure == "":
		text += ": " + s.Means
	default:
		text += ", " + s.Means
	}
	if text != "" {
		text += "."
	}
	return strings.TrimSpace(text + " " + s.Do)
}

func capital(s string) string {
	if s == "" {
		return ""
	}
	first, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[size:]
}

// Advice is what is said above all else: one word, one sentence.
type Advice struct {
	Headline Headline
	Saying   Saying
	Sentence string // Saying in words, with temperatures in °C
	Alarm    string // the alarm that speaks; empty with no alarm
	// KeepAway: an alarm of the first two classes stands, so that no text
	// anywhere asks anybody to the bench.
	KeepAway bool
}

// says gives what is said of an alarm now. With away, nothing in it asks
// anybody to the bench.
func (e *Engine) says(a *alarmState, away bool) Saying {
	w := a.rule.Words
	s := Saying{Subject: a.rule.Subject, Figure: a.trigger.Value, Means: w.Means, Do: w.Do}
	if w.Forecast != "" && a.conditions[a.led].Kind == ReachesWithin {
		s.Means = w.Forecast
	}
	if a.conditions[0].Kind == RecordFailing && e.facts.RecordFails != "" {
		s.because(e.facts.RecordFails)
	}
	if a.conditions[0].Kind == WasDark {
		off := "off "
		if e.darkFor > 0 {
			off = "off for " + InWords(e.darkFor) + " "
		}
		s.Means = off + s.Means
	}
	if reason := a.trigger.Reason; reason != sensors.ReasonNone && !w.Own {
		s.because(reason.String())
	}
	switch {
	case w.Own && away:
		s.Means, s.Do = kindMeans(a.conditions[0].Kind), stayAway
	case away && w.NearBench:
		s.Do = w.DoAway
	case a.state == Acknowledged && a.active && w.Still != "":
		s.Do = w.Still
	}
	if a.state.hidden() {
		s.Means, s.Do = "kept quiet ("+strings.ReplaceAll(a.state.String(), "_", " ")+")", ""
		return s
	}
	if a.active {
		if a.found == no && a.rule.Class == FumeDanger && !w.Own {
			s.Means = "below its clearing point, but not for long enough yet"
		}
		return s
	}
	s.Means, s.Do = w.over(away), ""
	switch a.state {
	case LatchedUnacknowledged, LatchedAcknowledged:
		s.Do = e.saysCleared(a, away)
	case RTNUnacknowledged:
		s.Do = "Acknowledge that you have seen it."
	}
	return s
}

// over says what is so once the condition has cleared.
func (w Words) over(away bool) string {
	switch {
	case w.Own && away, w.Over == "" && w.Means == "":
		return "over"
	case w.Over != "":
		return w.Over
	default:
		return "no longer: " + w.Means
	}
}

func (e *Engine) saysCleared(a *alarmState, away bool) string {
	switch {
	case away && !a.rule.Class.KeepsAway():
		return stayAway
	case e.fumesThreaten():
		return "Keep out while another fume alarm stands."
	case a.rule.Words.Cleared != "":
		return a.rule.Words.Cleared
	default:
		return "It has cleared; reset it."
	}
}

// kindMeans says what a condition is about where a bench file's own words are
// kept back.
func kindMeans(k Kind) string { return "alarm (" + strings.ReplaceAll(k.String(), "-", " ") + ")" }

// InWords gives a length of time as people say it, to the two largest units.
func InWords(d time.Duration) string {
	d = max(0, d.Round(time.Second))
	h, m, sec := int(d.Hours()), int(d.Minutes())%60, int(d.Seconds())%60
	switch {
	case h > 0 && m == 0:
		return plural(h, "hour")
	case h > 0:
		return plural(h, "hour") + " " + plural(m, "minute")
	case m > 0 && sec > 0:
		return plural(m, "minute") + " " + plural(sec, "second")
	case m > 0:
		return plural(m, "minute")
	default:
		return plural(sec, "second")
	}
}

func plural(n int, unit string) string {
	if n == 1 {
		return "1 " + unit
	}
	return itoa(n) + " " + unit + "s"
}

// advice finds the alarm that speaks first: those that press, by class, then
// the rest by class, then by priority and by which came first.
func (e *Engine) advice() Advice {
	away := e.KeepsAway()
	var first *alarmState
	for _, a := range e.alarms {
		if a.state.Stands() && (first == nil || a.rank().before(first.rank())) {
			first = a
		}
	}
	if first == nil {
		return Advice{Headline: HeadlineNoAlarm, Sentence: "No alarm.", KeepAway: away}
	}
	saying := e.says(first, away)
	headline := first.headline()
	if away {
		headline = HeadlineLeave // also while a fume alarm waits for its reset
	}
	return Advice{
		Headline: headline, Saying: saying, Sentence: saying.Sentence(),
		Alarm: first.rule.Name, KeepAway: away,
	}
}

// rank is what decides who speaks first.
type rank struct {
	active   bool
	class    Class
	priority Priority
	firstOut int
}

// before is the one order of precedence: what asks for something now, then by
// class, by priority, and by which came first.
func (r rank) before(o rank) bool {
	switch {
	case r.presses() != o.presses():
		return r.presses()
	case r.class != o.class:
		return r.class < o.class
	case r.priority != o.priority:
		return r.priority > o.priority
	default:
		return r.firstOut < o.firstOut
	}
}

// presses says whether the alarm asks for something now: its condition is true,
// and it is no caution, which must not speak before a danger that is latched.
func (r rank) presses() bool {
	return r.active && (r.priority >= Warning || r.class.KeepsAway())
}

func (a *alarmState) rank() rank {
	return rank{a.active, a.rule.Class, a.rule.Priority, a.firstOut}
}

// Before says whether an alarm that stands speaks before another that does, in
// the order in which the hub's own advice chooses the first.
func (v AlarmView) Before(o AlarmView) bool {
	return rank{v.Active, v.Class, v.Priority, v.FirstOut}.before(rank{o.Active, o.Class, o.Priority, o.FirstOut})
}

// headline is the word of an alarm that speaks while nobody need keep away.
func (a *alarmState) headline() Headline {
	switch {
	case a.active && a.rule.Class == BathDanger && a.rule.Priority == Danger:
		return HeadlineHot
	default:
		return HeadlineLook
	}
}
