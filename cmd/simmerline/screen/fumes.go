package screen

import (
	"math"
	"slices"
	"strings"

	"simmerline/rules"
	"simmerline/sensors"
)

// fumeLines draw the gases beside their setpoints, and the hood's airflow.
func (d drawing) fumeLines() []line {
	v := d.snapshot.View
	c := columnsOf(d.width)
	var lines, others []line
	for _, channel := range v.Channels {
		switch {
		case channel.Quantity == sensors.GasLevel:
			lines = append(lines, d.gasLine(channel, c))
		case channel.Quantity == sensors.Contact:
			others = append(others, d.contactLine(channel, c))
		case !inABath(v, channel.Name):
			others = append(others, d.otherLine(channel, c))
		}
	}
	if len(lines) > 0 {
		top := heading(rankHeading, " AT THE FUME HEAD", "  where it hangs: not worn, and no certified detector")
		lines = append([]line{top}, lines...)
	}
	return append(lines, others...)
}

func inABath(v rules.View, channel string) bool {
	return slices.ContainsFunc(v.Baths, func(b rules.BathView) bool { return slices.Contains(b.Probes, channel) })
}

// gasName is what a row calls a gas.
func gasName(c rules.ChannelView) string {
	if c.Title() != c.Name || c.Gas == sensors.OtherGas || c.Gas == sensors.GasUnspecified {
		return Printable(c.Title())
	}
	return c.Gas.Formula()
}

func (d drawing) gasLine(g rules.ChannelView, c columns) line {
	l := text(rankFume, strongInk, " "+cell(gasName(g), c.name))
	d.addNumber(&l, g.Reading, c.number)
	if c.trend > 0 {
		l.add(strings.Repeat(" ", c.trend+1), plainInk)
	}
	reached := reachedBy(g)
	if c.strip > 0 {
		l.add("  ", plainInk)
		drawGas(&l, g, c.strip, reached)
	}
	l.add("  ", plainInk)
	words, i := d.aged(gasWords(g, reached), g.Reading, g.Age), plainInk
	switch {
	case d.old():
		words = "old"
	case reached > rules.Caution:
		words, i = " "+words+" ", priorityInk(reached)
	case g.Reading.Quality != sensors.QualityGood:
		i = strongInk
	}
	l.add(ansiCut(words, c.words), i)
	return l
}

// reachedBy is the most urgent setpoint that the level has reached. A level
// beyond the cell's range counts as danger.
func reachedBy(g rules.ChannelView) rules.Priority {
	if g.Reading.Reason == sensors.ReasonOverRange {
		return rules.Danger
	}
	reached := rules.PriorityUnspecified
	if level, ok := g.Reading.Value.PPM(); ok && g.Reading.Quality == sensors.QualityGood {
		for _, s := range g.Setpoints {
			if float64(level) >= s.Level {
				reached = max(reached, s.Priority)
			}
		}
	}
	return reached
}

func gasWords(g rules.ChannelView, reached rules.Priority) string {
	if g.Reading.Reason == sensors.ReasonOverRange {
		return "OVER RANGE: counts as DANGER"
	}
	var limits []string
	for _, s := range g.Setpoints {
		limit := s.Priority.String() + " " + plainPPM(s.Level)
		if s.Priority == reached && reached > rules.Caution {
			return "OVER " + strings.ToUpper(s.Priority.String()) + ", " + plainPPM(s.Level) + " ppm"
		}
		limits = append(limits, limit)
	}
	words := qualityWords(g.Reading)
	if len(limits) == 0 {
		return words
	}
	if words != "" {
		return words
	}
	return strings.Join(limits, ", ") + " ppm"
}

// plainPPM keeps as many decimals as a small limit needs.
func plainPPM(level float64) string {
	if level < 1 {
		return strings.TrimRight(strings.TrimRight(strings.TrimSuffix(sensors.PPM(level).String(), " ppm"), "0"), ".")
	}
	return plainNumber(level)
}

// drawGas draws a level beside its setpoints, on a scale that ends a quarter
// above the highest of them.
func drawGas(l *line, g rules.ChannelView, width int, reached rules.Priority) {
	level, known := g.Reading.Value.PPM()
	if !known {
		l.add(strings.Repeat("╱", width), plainInk)
		return
	}
	if len(g.Setpoints) == 0 {
		l.add(strings.Repeat(" ", width), plainInk)
		return
	}
	top := g.Setpoints[len(g.Setpoints)-1].Level * 1.25
	at := func(ppm float64) int {
		x := int(math.Round(ppm / top * float64(width-1)))
		return min(max(x, 0), width-1)
	}
	strip := []rune(strings.Repeat("─", width))
	for _, s := range g.Setpoints {
		strip[at(s.Level)] = '┆'
		if s.Priority == rules.Danger {
			strip[at(s.Level)] = '┃'
		}
	}
	x := at(float64(level))
	mark := strongInk
	if reached > rules.Caution {
		mark = markInk
	}
	l.add(string(strip[:x]), plainInk)
	l.add("●", mark)
	l.add(string(strip[x+1:]), plainInk)
}

// contactLine says of a contact whether it is closed, and of the hood's whether
// that proves its airflow.
func (d drawing) contactLine(c rules.ChannelView, w columns) line {
	l := text(rankFume, strongInk, " "+cell(Printable(c.Title()), w.name)+"  ")
	closed, known := c.Reading.Value.Closed()
	words, i := "contact open", plainInk
	switch {
	case d.old():
		words = "old"
	case !known:
		words, i = "not known: "+qualityWords(c.Reading), strongInk
	case c.Airflow && closed:
		words = "proved: its contact is closed"
	case c.Airflow:
		words, i = " NOT PROVED: its contact is open ", warningInk
	case closed:
		words = "contact closed"
	}
	l.add(words, i)
	return l
}

// otherLine is a number that belongs to no bath.
func (d drawing) otherLine(c rules.ChannelView, w columns) line {
	l := text(rankStatus, plainInk, " "+cell(Printable(c.Title()), w.name))
	d.addNumber(&l, c.Reading, w.number)
	if words := qualityWords(c.Reading); words != "" {
		l.add("  "+words, strongInk)
	}
	return l
}
