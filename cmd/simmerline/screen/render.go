package screen

import (
	"strings"
	"time"

	"charm.land/lipgloss/v2"

	"simmerline/hub/bench"
)

// Sizes at which the drawing changes.
const (
	largeHeight = 38 // from here on the large letters are twice as large
	largeWidth  = 130
	smallHeight = 13 // below, there are no large letters
	leastWidth  = 20
)

// drawing is a model on its way to a screen of a size, at a moment.
type drawing struct {
	*Model
	width int
	now   time.Duration
}

func (d drawing) units() bench.Units { return d.options.Units.of(d.snapshot) }

// old says whether what is known of the bench is old: the hub is silent.
func (d drawing) old() bool {
	_, silent := d.ear.Silent(d.now)
	return silent
}

// Render draws the view in rows of at most width cells, exactly height of them.
func (m *Model) Render(width, height int, now time.Duration) string {
	if width < leastWidth || height < 3 {
		return lipgloss.NewStyle().MaxWidth(max(width, 1)).Render("too small")
	}
	d := drawing{Model: m, width: width, now: now}
	foot := d.footLines()
	h := d.headOf()
	lines := h.lines(width, scaleOf(width, height))
	if height < smallHeight {
		lines = h.small(width)
	}
	body := d.body(height - len(lines) - len(foot))
	room := max(height-len(lines)-len(foot), 0)
	body = fit(body, room)
	var rows []string
	for _, l := range lines {
		rows = append(rows, l.draw(width, false))
	}
	for _, l := range body {
		rows = append(rows, l.draw(width, d.old()))
	}
	for len(rows)+len(foot) < height {
		rows = append(rows, "")
	}
	for _, l := range foot {
		rows = append(rows, l.draw(width, false))
	}
	if over := len(rows) - height; over > 0 {
		rows = append(rows[:height-1], rows[len(rows)-1])
	}
	return strings.Join(rows, "\n")
}

func scaleOf(width, height int) int {
	if height >= largeHeight && width >= largeWidth {
		return 2
	}
	return 1
}

// small is the head without large letters.
func (h head) small(width int) []line {
	h.number, h.unit = "", ""
	word := h.word
	h.word = "~" // has no large drawing
	lines := h.lines(width, 1)
	lines[0].spans = []span{{" " + word, strongInk}}
	return lines
}

// body is everything between head and foot, in order and not yet cut.
func (d drawing) body(room int) []line {
	if d.help {
		return helpLines()
	}
	if d.snapshot == nil {
		return nil
	}
	var lines []line
	section := func(more []line) {
		if len(more) == 0 {
			return
		}
		lines = append(lines, text(rankGap, plainInk, ""))
		lines = append(lines, more...)
	}
	if d.old() {
		section([]line{text(rankKept, strongInk, " OLD: all below is as of "+clockTime(d.ear.Since(), d.options.Zone))})
	}
	section(d.noticeLines())
	most := room / 2 // so that some of the baths can be seen too
	if d.width <= narrowWidth {
		most /= 2
	}
	section(d.alarmLines(max(most, 2)))
	section(d.bathLines())
	section(d.fumeLines())
	section(append(d.troubleLines(), d.statusLines()...))
	section(d.latestLines())
	return lines
}

// footLines are the answer to a key and the keys themselves.
func (d drawing) footLines() []line {
	var lines []line
	if d.note.text != "" && d.now < d.note.until {
		lines = append(lines, text(rankKept, strongInk, " "+d.note.text))
	}
	if d.dialog.kind != DoNothing {
		what := "acknowledges"
		if d.dialog.kind == DoReset {
			what = "resets"
		}
		l := text(rankKept, strongInk, " Who "+what+" "+Printable(d.dialog.alarm)+"? "+d.dialog.typed+"▏")
		l.add("  Enter to do it, Esc to leave it", plainInk)
		return append(lines, l)
	}
	l := line{}
	l.add(" ", plainInk)
	for _, k := range []struct{ key, does string }{{"a", "acknowledge"}, {"r", "reset"}, {"?", "help"}, {"q", "quit"}} {
		l.add(k.key, strongInk)
		l.add(" "+k.does+"   ", plainInk)
	}
	if d.snapshot != nil {
		right := Printable(d.snapshot.Bench) + "  " + clockTime(d.snapshot.Wall, d.options.Zone)
		if at := d.width - len([]rune(right)) - 1; at >= l.width() {
			l.to(at)
			l.add(right, plainInk)
		}
	}
	return append(lines, l)
}

func helpLines() []line {
	var lines []line
	for _, t := range []string{
		"",
		"a    acknowledge the alarm that speaks: its sound stops, its state stays",
		"r    reset a latched alarm that has cleared and is acknowledged",
		"?    this help, and back",
		"q    quit",
		"",
		"●    where a bath or a level is     ▒  a bath's working range",
		"┃    its line, or a gas's danger    ┆  a gas's warning",
		"╱    no number: lost, silent or at fault",
		"?    behind a number: shown, but not trusted",
		"",
		"Nothing heard from the hub for 3 s is shown, for 8 s it is rung.",
		"The gases are measured at the head and not where you breathe.",
		"This is an aid, not a certified gas detector or safety interlock.",
	} {
		lines = append(lines, text(rankDetail, plainInk, strings.TrimRight("   "+t, " ")))
	}
	return lines
}

// ansiCut shortens words to a column.
func ansiCut(t string, width int) string { return strings.TrimRight(cell(t, width), " ") }
