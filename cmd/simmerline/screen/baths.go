package screen

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"simmerline/hub/bench"
	"simmerline/rules"
	"simmerline/sensors"
)

// columns are the widths of what stands beside each other in the rows of baths
// and gases. strip is 0 where there is no room for one.
type columns struct{ name, number, trend, strip, words int }

// wideWidth is from where on there is room for what is else a row of its own.
const wideWidth = 120

// columnsOf divides a width.
func columnsOf(width int) columns {
	c := columns{name: 13, number: 9, trend: 6}
	if width < 60 {
		c.name, c.trend = 12, -1
	}
	rest := width - 1 - c.name - c.number - 1 - (1 + c.trend) - 2
	if c.words = 29; width >= wideWidth {
		c.words = 62
	}
	if rest-c.words >= 12 {
		c.strip = min(rest-c.words-2, 72)
		rest -= c.strip + 2
	}
	c.words = max(rest, 8)
	return c
}

// axis is the temperature axis that all baths share: from the cold of a room to
// the local boiling point.
type axis struct {
	low, high float64 // °C
	width     int
}

const axisFrom = 10.0 // °C

func axisOf(v rules.View, width int) axis {
	return axis{low: axisFrom, high: max(float64(v.Boiling), axisFrom+1), width: width}
}

// at is the cell in which a temperature lies.
func (a axis) at(c float64) int {
	x := int(math.Round((c - a.low) / (a.high - a.low) * float64(a.width-1)))
	return min(max(x, 0), a.width-1)
}

// bathLines draws the baths, each standing on the same axis.
func (d drawing) bathLines() []line {
	v, units := d.snapshot.View, d.units()
	if len(v.Baths) == 0 {
		return nil
	}
	c := columnsOf(d.width)
	top := heading(rankHeading, " "+cell("BATHS", c.name), "")
	as := "now"
	if d.old() {
		as = "OLD"
	}
	top.add(cellRight(as, c.number), faintInk)
	if c.trend > 0 {
		top.add(" "+cellRight("/min", c.trend), faintInk)
	}
	if c.strip > 0 {
		left := degrees(axisFrom, units)
		right := "boils " + degrees(v.Boiling, units)
		top.add("  "+left+cellRight(right, c.strip-len([]rune(left))), faintInk)
	}
	lines := []line{top}
	for _, b := range v.Baths {
		lines = append(lines, d.bathLine(b, c))
		if detail, rank := d.bathDetail(b); detail != "" {
			lines = append(lines, text(rank, faintInk, strings.Repeat(" ", 3)+detail))
		}
	}
	return lines
}

func (d drawing) bathLine(b rules.BathView, c columns) line {
	v, units := d.snapshot.View, d.units()
	l := text(rankBath, strongInk, " "+cell(Printable(b.Title()), c.name))
	d.addNumber(&l, b.Reading, c.number)
	if c.trend > 0 {
		trend := ""
		if b.HasTrend && !d.old() {
			trend = trendWords(perMinute(b.PerMinute, units))
		}
		l.add(" "+cellRight(trend, c.trend), plainInk)
	}
	over := isOver(b)
	if c.strip > 0 {
		l.add("  ", plainInk)
		drawBath(&l, axisOf(v, c.strip), b, over)
	}
	l.add("  ", plainInk)
	words, i := d.aged(bathWords(b, over, units), b.Reading, b.Age), plainInk
	if b.Whose != "" && d.width >= wideWidth {
		words += ": " + Printable(inUnits(b.Whose, units))
	}
	switch {
	case d.old():
		words = "old"
	case over && b.Kind == rules.BathSulfide:
		words, i = " "+words+" ", dangerInk
	case over:
		words, i = " "+words+" ", warningInk
	case b.Reading.Quality != sensors.QualityGood:
		i = strongInk
	}
	l.add(ansiCut(words, c.words), i)
	return l
}

// addNumber puts a number with its unit, marked where it is not to be trusted;
// a bad reading has none.
func (d drawing) addNumber(l *line, r sensors.Reading, width int) {
	t := figureText(r.Value, d.units())
	switch {
	case t == "":
		l.add(cellRight("no number", width)+" ", strongInk)
	case d.old():
		l.add(cellRight("("+t+")", width+1), plainInk)
	case r.Quality == sensors.QualityUncertain:
		l.add(cellRight(t, width)+"?", plainInk)
	default:
		l.add(cellRight(t, width)+" ", strongInk)
	}
}

func isOver(b rules.BathView) bool {
	c, ok := b.Reading.Value.Celsius()
	return ok && b.Reading.Quality == sensors.QualityGood && c >= b.Line
}

// bathWords say how the bath stands against its range and its line.
func bathWords(b rules.BathView, over bool, units bench.Units) string {
	line := "line " + degrees(b.Line, units) + " " + unitOf(units)
	if w := qualityWords(b.Reading); w != "" {
		return w
	}
	in, known := b.InRange()
	c, _ := b.Reading.Value.Celsius()
	span := degrees(b.RangeLow, units) + "–" + degrees(b.RangeHigh, units)
	switch {
	case over:
		return "OVER ITS LINE, " + degrees(b.Line, units) + " " + unitOf(units)
	case !known:
		return line
	case in:
		return "in range " + span + ", " + line
	case c < b.RangeLow:
		return "below " + span + ", " + line
	default:
		return "above " + span + ", " + line
	}
}

// qualityWords say why a reading is not simply good; empty when it is.
func qualityWords(r sensors.Reading) string {
	switch r.Quality {
	case sensors.QualityGood:
		return ""
	case sensors.QualityUnknown:
		return "not heard yet"
	default:
		return strings.TrimSuffix(r.Quality.String()+": "+r.Reason.String(), ": ")
	}
}

// trendWords give a rate by an arrow and its size.
func trendWords(rate float64) string {
	switch {
	case rate >= 0.05:
		return fmt.Sprintf("↑ %.1f", rate)
	case rate <= -0.05:
		return fmt.Sprintf("↓ %.1f", -rate)
	default:
		return "steady"
	}
}

// drawBath draws a bath on the axis: its working range shaded, its line, and
// where it is. A bath without a number is hatched and empty.
func drawBath(l *line, a axis, b rules.BathView, over bool) {
	strip := []rune(strings.Repeat("─", a.width))
	c, known := b.Reading.Value.Celsius()
	if !known {
		strip = []rune(strings.Repeat("╱", a.width))
	} else if b.HasRange() {
		for x := a.at(float64(b.RangeLow)); x <= a.at(float64(b.RangeHigh)); x++ {
			strip[x] = '▒'
		}
	}
	strip[a.at(float64(b.Line))] = '┃'
	if !known {
		l.add(string(strip), plainInk)
		return
	}
	at := a.at(float64(c))
	l.add(string(strip[:at]), plainInk)
	mark := strongInk
	if over {
		mark = markInk
	}
	l.add("●", mark)
	l.add(string(strip[at+1:]), plainInk)
}

// bathDetail says which of several probes governs, and what is wrong with the
// others; the rank says how much that matters.
func (d drawing) bathDetail(b rules.BathView) (detail string, rank int) {
	if len(b.Probes) < 2 {
		return "", rankDetail
	}
	parts, rank := []string{d.channelTitle(b.Reading.Channel) + " governs"}, rankDetail
	for _, c := range d.snapshot.View.Channels {
		if slices.Contains(b.Probes, c.Name) && c.Reading.Quality != sensors.QualityGood {
			parts = append(parts, Printable(c.Title())+" "+qualityWords(c.Reading))
			rank = rankBath
		}
	}
	return strings.Join(parts, ", "), rank
}

// aged adds how old a reading is, once that is worth a word: before what is so
// of a number, and after why there is none.
func (d drawing) aged(words string, r sensors.Reading, age time.Duration) string {
	switch {
	case !d.pace.old(age) || d.old():
		return words
	case r.Value.Known():
		return lasted(age) + " old, " + words
	default:
		return words + ", " + lasted(age)
	}
}

func (d drawing) channelTitle(name string) string {
	for _, c := range d.snapshot.View.Channels {
		if c.Name == name {
			return Printable(c.Title())
		}
	}
	return Printable(name)
}
