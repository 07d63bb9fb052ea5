package screen

import (
	"time"
	"unicode/utf8"

	"simmerline/rules"
)

// Do is what a key asks of the program around the screen.
type Do struct {
	Kind  DoKind
	Alarm string // for Acknowledge and Reset
	By    string
}

// DoKind is the kind of a request.
type DoKind uint8

// The kinds.
const (
	DoNothing DoKind = iota
	DoQuit
	DoAcknowledge
	DoReset
)

// longestName bounds a name that is typed, in bytes.
const longestName = 60

// dialog is the question for a name, open while kind is not DoNothing. The
// alarm is the one that was meant when the key was pressed.
type dialog struct {
	kind  DoKind
	alarm string
	typed string
}

// Key takes a key by the name that terminals' programs give it ("a", "enter",
// "ctrl+c"), with the text it writes, and says what is to be done.
func (m *Model) Key(now time.Duration, name, text string) Do {
	if name == "ctrl+c" {
		return Do{Kind: DoQuit}
	}
	if m.dialog.kind != DoNothing {
		return m.takeName(now, name, text)
	}
	switch name {
	case "q":
		return Do{Kind: DoQuit}
	case "?", "h":
		m.help = !m.help
	case "esc":
		m.help = false
	case "a":
		return m.ask(now, DoAcknowledge, m.awaits(awaitsAcknowledge), "No alarm waits to be acknowledged.")
	case "r":
		return m.ask(now, DoReset, m.awaits(awaitsReset), "No alarm waits to be reset: a latched one must clear and be acknowledged first.")
	}
	return Do{}
}

// ask begins a request, or says why there is none to make.
func (m *Model) ask(now time.Duration, kind DoKind, alarm, none string) Do {
	switch _, silent := m.ear.Silent(now); {
	case silent:
		m.Answered(now, "The hub is silent: it can't be asked anything now.")
	case alarm == "":
		m.Answered(now, none)
	case m.options.Name == "":
		m.dialog = dialog{kind: kind, alarm: alarm}
	default:
		return Do{Kind: kind, Alarm: alarm, By: m.options.Name}
	}
	return Do{}
}

// takeName takes a key while the name is asked for.
func (m *Model) takeName(now time.Duration, name, text string) Do {
	d := &m.dialog
	switch name {
	case "esc":
		m.dialog = dialog{}
	case "enter":
		by := Printable(d.typed)
		if by == "" {
			m.Answered(now, "A name is needed, so that the record says who it was.")
			return Do{}
		}
		do := Do{Kind: d.kind, Alarm: d.alarm, By: by}
		m.options.Name, m.dialog = by, dialog{}
		return do
	case "backspace":
		_, size := utf8.DecodeLastRuneInString(d.typed)
		d.typed = d.typed[:len(d.typed)-size]
	default:
		if name == "space" {
			text = " "
		}
		if kept := Printable(text); kept != "" || text == " " {
			d.typed += text
		}
		for len(d.typed) > longestName {
			_, size := utf8.DecodeLastRuneInString(d.typed)
			d.typed = d.typed[:len(d.typed)-size]
		}
	}
	return Do{}
}

// awaits gives the first alarm, in the order in which they are to be said, that
// waits for something; empty where none does.
func (m *Model) awaits(waits func(rules.State) bool) string {
	if m.snapshot == nil {
		return ""
	}
	for _, a := range standing(m.snapshot.View) {
		if waits(a.State) {
			return a.Name
		}
	}
	return ""
}

func awaitsAcknowledge(s rules.State) bool {
	return s == rules.Unacknowledged || s == rules.RTNUnacknowledged || s == rules.LatchedUnacknowledged
}

func awaitsReset(s rules.State) bool { return s == rules.LatchedAcknowledged }
