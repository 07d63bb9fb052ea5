package hub

import (
	"errors"
	"fmt"
	"testing"
	"testing/synctest"
	"time"
)

// What an answer says of the disk must be true of all that was asked for, not
// only of the word of it.
func TestAnswerAboutASessionIsTrueOfTheSession(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		for i := range 40 {
			_, recorded, err := b.hub.StartSession(t.Context(), fmt.Sprint("ring ", i), 0, "Maren")
			if err != nil || recorded != RecordedSynced {
				t.Fatalf("%s, %v", recorded, err)
			}
			if sessions, err := b.hub.Record().Sessions(t.Context()); err != nil || len(sessions) != i+1 {
				t.Fatalf("it was said to be synced, and the record has %d sessions of %d, %v", len(sessions), i+1, err)
			}
			if _, recorded, err = b.hub.EndSession(t.Context(), "Maren"); err != nil || recorded != RecordedSynced {
				t.Fatalf("%s, %v", recorded, err)
			}
			if sessions, err := b.hub.Record().Sessions(t.Context()); err != nil || sessions[0].Open() {
				t.Fatalf("its end was said to be synced, and it is open in the record, %v", err)
			}
		}
	})
}

// A hub that can't begin lets go of its record.
func TestHubThatFailsToBeginHoldsNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := options(t, t.TempDir())
		wrong := errors.New("the story is torn")
		o.Earlier = &Earlier{Play: func(p *Past) error {
			for range 1000 {
				p.Mark(0, "stirred", "Ilo")
			}
			time.Sleep(time.Second)
			return wrong
		}}
		if _, err := New(t.Context(), o); !errors.Is(err, wrong) {
			t.Errorf("got %v", err)
		}
		begun := time.Now()
		if err := o.Record.Close(t.Context()); err != nil || time.Since(begun) > time.Second {
			t.Errorf("closing took %s, %v", time.Since(begun), err)
		}
	})
}
