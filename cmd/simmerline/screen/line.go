package screen

import (
	"slices"
	"strings"

	"charm.land/lipgloss/v2"
	"github.com/charmbracelet/x/ansi"
)

// ink is how a piece of text is drawn. Colours follow IEC 60073: red for
// danger, amber for a warning, none for what is below its limits.
type ink uint8

const (
	plainInk ink = iota
	strongInk
	faintInk
	dangerInk  // white on red
	warningInk // black on amber
	markInk    // what is over a limit, without a ground of its own
)

// style gives the terminal style of an ink. Where colours are switched off the
// weight and the words remain.
func (i ink) style() lipgloss.Style {
	s := lipgloss.NewStyle()
	switch i {
	case strongInk:
		return s.Bold(true)
	case faintInk:
		return s.Faint(true)
	case dangerInk:
		return s.Bold(true).Foreground(lipgloss.Color("#FFFFFF")).Background(lipgloss.Color("#A8140F"))
	case warningInk:
		return s.Bold(true).Foreground(lipgloss.Color("#000000")).Background(lipgloss.Color("#FFB000"))
	case markInk:
		return s.Bold(true).Foreground(lipgloss.Color("#E03C31"))
	default:
		return s
	}
}

// span is a piece of a line in one ink.
type span struct {
	text string
	ink  ink
}

// line is one row of the screen. rank says what is cut first where there is no
// room: the higher the sooner, and 0 never.
type line struct {
	spans  []span
	ground ink // for the whole width; plainInk for none
	rank   int
	// opens marks a heading, which goes where all beneath it has gone.
	opens bool
}

// The ranks of lines.
const (
	rankKept = iota
	rankAlarm
	rankBath
	rankFume
	rankTrouble
	rankHeading
	rankStatus
	rankLatest
	rankDetail
	rankGap
)

func text(rank int, i ink, t string) line { return line{rank: rank, spans: []span{{t, i}}} }

func heading(rank int, t, rest string) line {
	l := text(rank, strongInk, t)
	l.opens = true
	if rest != "" {
		l.add(rest, faintInk)
	}
	return l
}

// add puts a piece at the end.
func (l *line) add(t string, i ink) { l.spans = append(l.spans, span{t, i}) }

// width is how many cells the line takes.
func (l line) width() int {
	n := 0
	for _, s := range l.spans {
		n += ansi.StringWidth(s.text)
	}
	return n
}

// to fills the line with blanks up to a column.
func (l *line) to(column int) {
	if gap := column - l.width(); gap > 0 {
		l.add(strings.Repeat(" ", gap), plainInk)
	}
}

// draw gives the line for a terminal, cut to the width. Faded lines are drawn
// in faint ink throughout.
func (l line) draw(width int, faded bool) string {
	var b strings.Builder
	room := width
	for _, s := range l.spans {
		t := ansi.Truncate(s.text, room, "…")
		room -= ansi.StringWidth(t)
		i := s.ink
		if l.ground != plainInk {
			i = l.ground
		} else if faded {
			i = faintInk
		}
		b.WriteString(i.style().Render(t))
		if t != s.text {
			break
		}
	}
	if l.ground != plainInk && room > 0 {
		b.WriteString(l.ground.style().Render(strings.Repeat(" ", room)))
	}
	return b.String()
}

// fit cuts lines until they fit the height: those of the highest rank first,
// and of those the lowest on the screen.
func fit(lines []line, height int) []line {
	lines = slices.Clone(lines)
	for len(lines) > height {
		worst := -1
		for i, l := range lines {
			if l.rank > rankKept && (worst < 0 || l.rank >= lines[worst].rank) {
				worst = i
			}
		}
		if worst < 0 {
			return lines[:max(height, 0)]
		}
		lines = slices.Delete(lines, worst, worst+1)
	}
	for i := len(lines) - 1; i >= 0; i-- {
		last := i == len(lines)-1 || lines[i+1].opens || lines[i+1].rank == rankGap
		if lines[i].opens && last {
			lines = slices.Delete(lines, i, i+1)
		}
	}
	return lines
}

// wrap breaks a text at blanks into rows of at most the width.
func wrap(t string, width int) []string {
	if width < 1 {
		return nil
	}
	return strings.Split(ansi.Wrap(t, width, ""), "\n")
}

// cell is a text in a column: cut where it is too long, filled where too short.
func cell(t string, width int) string {
	t = ansi.Truncate(t, max(width, 0), "…")
	return t + strings.Repeat(" ", max(width-ansi.StringWidth(t), 0))
}

// cellRight is cell with the text at the right edge.
func cellRight(t string, width int) string {
	t = ansi.Truncate(t, max(width, 0), "…")
	return strings.Repeat(" ", max(width-ansi.StringWidth(t), 0)) + t
}
