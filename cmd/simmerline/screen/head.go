package screen

import (
	"strings"
	"time"

	"simmerline/rules"
	"simmerline/sensors"
)

// head is what is to be read first, from across a room.
type head struct {
	word     string
	number   string // the figure that governs, empty for none
	unit     string
	label    string // what the figure is of
	sentence string
	ink      ink // the ground of all of it
}

// headOf finds what to say first.
func (d drawing) headOf() head {
	quiet, silent := d.ear.Silent(d.now)
	switch {
	case silent:
		return d.silentHead(quiet)
	case d.snapshot == nil:
		return head{word: "LOOK", sentence: "Waiting for the hub to say how the bench stands.", ink: strongInk}
	}
	v, units := d.snapshot.View, d.units()
	h := head{word: v.Advice.Headline.String(), ink: strongInk}
	number, unit := figure(v.Advice.Saying.Figure, units)
	h.number, h.unit = number, unit
	h.sentence = v.Advice.Sentence
	if v.Advice.Alarm != "" {
		h.sentence = v.Advice.Saying.SentenceWith(figureText(v.Advice.Saying.Figure, units))
	}
	h.sentence = Printable(inUnits(h.sentence, units))
	switch v.Advice.Headline {
	case rules.HeadlineLeave, rules.HeadlineHot:
		h.ink = dangerInk
	case rules.HeadlineLook:
		if alarms := standing(v); len(alarms) > 0 && alarms[0].Priority >= rules.Warning {
			h.ink = warningInk
		}
	default:
		h.number, h.unit, h.label = d.hottest()
	}
	return h
}

// silentHead says that nothing is known any more. It sends nobody to the bench:
// while nothing is heard, nothing would tell of gas there.
func (d drawing) silentHead(quiet time.Duration) head {
	h := head{word: "HUB SILENT", ink: dangerInk}
	var parts []string
	if d.snapshot == nil {
		parts = append(parts, "HUB SILENT: not heard yet, for "+lasted(quiet)+".")
	} else {
		parts = append(parts, "HUB SILENT since "+clockTime(d.ear.Since(), d.options.Zone)+", for "+lasted(quiet)+".")
	}
	if d.stopped {
		parts = append(parts, "It said that it was being stopped.")
	}
	switch {
	case d.snapshot == nil:
		parts = append(parts, "Nothing is known of the bench, and nothing here would warn of gas.")
	case d.snapshot.View.Advice.KeepAway:
		parts = append(parts, "Its last word was to keep away from the bench: stay away.")
	case d.snapshot.View.AnyHot:
		parts = append(parts, "A bath was hot, and nothing here would warn of gas: keep away until it is heard again.")
	default:
		parts = append(parts, "Nothing here would warn of heat or gas until it is heard again.")
	}
	h.sentence = strings.Join(parts, " ")
	return h
}

// hottest is the bath that is nearest to its line, for the far view while no
// alarm stands.
func (d drawing) hottest() (number, unit, label string) {
	var nearest *rules.BathView
	short := func(b *rules.BathView) float64 { return float64(b.Line) - b.Reading.Value.Number() }
	for i := range d.snapshot.View.Baths {
		b := &d.snapshot.View.Baths[i]
		if _, ok := b.Reading.Value.Celsius(); !ok || b.Reading.Quality != sensors.QualityGood {
			continue
		}
		if nearest == nil || short(b) < short(nearest) {
			nearest = b
		}
	}
	if nearest == nil {
		return "", "", ""
	}
	number, unit = figure(nearest.Reading.Value, d.units())
	return number, unit, Printable(nearest.Title())
}

// lines draws the head for a width: the word and the figure in large letters
// where they fit, and the sentence beneath, all of which is never cut.
func (h head) lines(width, scale int) []line {
	ground := h.ink
	if ground == strongInk {
		ground = plainInk
	}
	var lines []line
	row := func(t string) {
		l := text(rankKept, strongInk, t)
		l.ground = ground
		lines = append(lines, l)
	}
	word := large(h.word, scale)
	if word == nil || cells(word)+2 > width {
		row(strings.TrimRight(" "+h.word+"  "+strings.TrimSpace(h.number+" "+h.unit), " "))
	} else {
		number := large(h.number, scale)
		side := []string{h.unit, "", h.label}
		used := cells(word) + 2
		roomy := h.number != "" && number != nil && used+3+cells(number)+1+len([]rune(h.unit)) <= width
		for y, r := range word {
			r = " " + r
			if roomy {
				r += "    " + number[y]
				if at := y - (len(word) - len(side)); at >= 0 && len([]rune(r))+1+len([]rune(side[at])) <= width {
					r += " " + side[at]
				}
			}
			row(strings.TrimRight(r, " "))
		}
	}
	for _, r := range wrap(h.sentence, width-2) {
		row(" " + r)
	}
	return lines
}
