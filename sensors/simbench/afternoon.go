package simbench

import "time"

// The dial's places in the story.
const (
	dialOff     = 0.0
	dialWorking = 13.0 // keeps the hot sulfide bath in its range
	dialFull    = 100.0
)

// afternoon is the whole story, from plugging in to putting away.
func afternoon() Scenario {
	steps := []Moment{
		moment(clockTime(13, 8, 0), Dial{HotSulfide, dialWorking}),
	}
	steps = append(steps, dips(clockTime(13, 27, 0), clockTime(13, 33, 0), 0)...)
	steps = append(steps, moment(clockTime(13, 33, 0), AddAmmonia{HotSulfide, 15}))
	steps = append(steps, dips(clockTime(13, 34, 0), clockTime(13, 50, 0), 2)...)
	steps = append(steps,
		moment(clockTime(13, 50, 30), Dip{Bath: Soda, Piece: "disc", Grams: 14}),
		// Somebody brushes past the plate while the owner is at the door.
		moment(clockTime(13, 58, 0), Dial{HotSulfide, dialFull}),
		moment(clockTime(14, 5, 45), Fan{On: false}),
		// Both from outside the door.
		moment(clockTime(14, 9, 0), Fan{On: true}, PlateSwitch{HotSulfide, false}),
		// The air has been clear for minutes, and the bath is back in its range.
		moment(clockTime(14, 19, 0), Dial{HotSulfide, dialWorking}, PlateSwitch{HotSulfide, true}),
		moment(clockTime(14, 20, 0), ProbePlug{HotProbe, false}), // the cat
		moment(clockTime(14, 21, 30), ProbePlug{HotProbe, true}),
		moment(clockTime(14, 30, 0), Breaker{On: false}),
		moment(clockTime(14, 34, 0), Breaker{On: true}), // the plate's dial is where it was
		moment(clockTime(14, 45, 0), Dial{HotSulfide, dialOff}),
	)
	return Scenario{
		Name:    "afternoon",
		Title:   "an afternoon at " + Workshop + ": a dial nudged to full, a fan that stops, a cat and a breaker",
		OpensAt: clockTime(14, 0, 50),
		Ends:    clockTime(15, 45, 0),
		Steps:   steps,
		People: []Deed{
			{At: clockTime(13, 25, 0), Kind: DeedMark, By: Owner, Text: "five copper leaves, sterling ring, porous bronze disc: cleaned"},
			{At: clockTime(13, 33, 0), Kind: DeedMark, By: Owner, Text: "added ammonia"},
			{At: clockTime(13, 50, 30), Kind: DeedMark, By: Owner, Text: "disc into the soda"},
			{At: clockTime(14, 9, 0), Kind: DeedAcknowledge, By: Owner, Text: "outside; fan and plate switched at the door"},
			{At: clockTime(14, 18, 30), Kind: DeedReset, By: Owner, Text: "clear for minutes, room aired"},
			{At: clockTime(14, 20, 40), Kind: DeedAcknowledge, By: Owner, Text: "the cat"},
			{At: clockTime(14, 21, 40), Kind: DeedMark, By: Owner, Text: "hot probe plugged in again"},
			{At: clockTime(14, 30, 0), Kind: DeedHubDark},
			{At: clockTime(14, 34, 0), Kind: DeedHubBack},
			{At: clockTime(14, 35, 0), Kind: DeedAcknowledge, By: Owner, Text: "breaker back, plate looked at"},
			{At: clockTime(14, 45, 0), Kind: DeedMark, By: Owner, Text: "plate off"},
			{At: clockTime(15, 40, 0), Kind: DeedPutAway, By: Owner},
		},
	}
}

// dips puts the pieces into the hot bath in turn, beginning with the given one,
// and rinses each after.
func dips(from, to time.Duration, first int) []Moment {
	const turn, soak = 75 * time.Second, 12 * time.Second
	pieces := Pieces()
	var steps []Moment
	for i := first; from+turn <= to; i++ {
		p := pieces[i%len(pieces)]
		steps = append(steps,
			moment(from, Dip{Bath: HotSulfide, Piece: p.Name, Grams: p.Grams}),
			moment(from+soak, Dip{Bath: Rinse, Piece: p.Name, Grams: p.Grams}))
		from += turn
	}
	return steps
}
