package simbench

import (
	"fmt"
	"time"
)

// Scenario is what happens on the bench and what the people at it do, in story
// time: offset 0 is StoryStart. It is data; Bench plays the steps, and whoever
// runs the hub plays the people.
type Scenario struct {
	Name  string // for the command line
	Title string // one line for people
	// OpensAt is where a demo begins to show; what lies before is computed fast.
	OpensAt time.Duration
	// Clock is the time of day at offset 0; 0 means StoryStart.
	Clock time.Duration
	// Ends is when the story is over.
	Ends   time.Duration
	Start  Start
	Steps  []Moment
	People []Deed
}

// Moment is what happens on the bench at one time. A time between two steps of
// the world counts for the later one.
type Moment struct {
	At      time.Duration
	Actions []Action
}

func moment(offset time.Duration, actions ...Action) Moment {
	return Moment{At: offset, Actions: actions}
}

// Deed is what somebody does with the hub, not with the bench: whoever runs the
// story does it through the hub's own interface.
type Deed struct {
	At   time.Duration
	Kind DeedKind
	By   string // who
	Text string // the words of a mark, the name of a session, the reason given
}

// DeedKind is what a deed is.
type DeedKind uint8

// The deeds.
const (
	DeedNone         DeedKind = iota
	DeedMark                  // set a mark of these words
	DeedSessionStart          // begin a session of this name
	DeedSessionEnd            // end it
	DeedAcknowledge           // acknowledge every alarm that stands unacknowledged
	DeedReset                 // reset every latched alarm whose condition has cleared
	DeedPutAway               // put the bench away
	DeedHubDark               // the hub loses power with the rest
	DeedHubBack               // and comes back
)

// TimeOfDay is the time of day at offset 0.
func (s Scenario) TimeOfDay() time.Duration {
	if s.Clock == 0 {
		return StoryStart
	}
	return s.Clock
}

// rehearse runs through the steps on a bench that is thrown away, and finds
// what does not work out.
func (s Scenario) rehearse(site Site) error {
	if !(site.Boiling > 0 && site.Boiling < 150) || !(site.Pressure > 0) {
		return fmt.Errorf("simbench: water does not boil at %v under %v; give the site's own boiling point and pressure", site.Boiling, site.Pressure)
	}
	w := NewWorld(0, site, s.Start)
	var last time.Duration
	for i, step := range s.Steps {
		if step.At < last {
			return fmt.Errorf("simbench: scenario %s: step %d, at %v, comes before the one it follows, at %v", s.Name, i+1, step.At, last)
		}
		last = step.At
		for _, a := range step.Actions {
			if err := w.Do(a); err != nil {
				return fmt.Errorf("simbench: scenario %s: step %d, at %v: %w", s.Name, i+1, step.At, err)
			}
		}
	}
	return nil
}
