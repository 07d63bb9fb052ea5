package hub

import (
	"testing"
	"testing/synctest"
	"time"

	"simmerline/hub/notify"
	"simmerline/rules"
)

// The disk stops taking anything while the fumes rise, and comes back.
func TestLostDiskHoldsUpNoAlarmAndIsOneItself(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		quiet := map[string]float64{"hot": 60, "h2s": 0}
		b.read(3, quiet)
		w, err := b.hub.Watch(t.Context(), WatchOptions{})
		if err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		b.announcements(w)
		giveBack := seize(t, b)
		begun := time.Now()
		b.deliver(map[string]float64{"hot": 60, "h2s": 6})
		synctest.Wait()
		if b.sound.last() != notify.Danger || time.Now() != begun {
			t.Errorf("%s after the reading it sounds %s", time.Since(begun), b.sound.last())
		}
		time.Sleep(waitForDisk)
		got := b.announcements(w)
		if len(got) == 0 || got[0].Alarm == nil || got[0].Recorded != RecordedNo || time.Since(begun) > 2*waitForDisk {
			t.Fatalf("%s after the reading came %+v", time.Since(begun), got)
		}
		_, recorded, err := b.hub.Acknowledge(t.Context(), "fume-h2s-danger", "Maren", "outside")
		if waited := time.Since(begun); err != nil || recorded != RecordedNo || waited > answerWithin+3*waitForDisk {
			t.Errorf("the answer came after %s: %s, %v", waited, recorded, err)
		}
		b.read(15, quiet)
		if got := b.alarm("record-failing").State; got != rules.Unacknowledged {
			t.Errorf("record-failing is %s", got)
		}
		if r := b.hub.Snapshot().Record; r.Recording || r.Fails == "" {
			t.Errorf("the record's state: %+v", r)
		}
		giveBack()
		b.read(20, quiet)
		if got := b.alarm("record-failing"); got.Active || b.hub.Snapshot().Record.Fails != "" {
			t.Errorf("once the disk is back: %+v", got)
		}
		if _, recorded, err := b.hub.Acknowledge(t.Context(), "record-failing", "Maren", ""); err != nil || recorded != RecordedSynced {
			t.Errorf("an answer once the disk is back: %s, %v", recorded, err)
		}
		time.Sleep(2 * publishEvery)
		synctest.Wait()
		back, err := b.hub.Watch(t.Context(), WatchOptions{Resume: true})
		if err != nil {
			t.Fatal(err)
		}
		defer back.Close()
		for _, a := range b.announcements(back) {
			if a.Recorded != RecordedWritten {
				t.Errorf("who comes back is told that number %d is recorded: %s", a.Sequence, a.Recorded)
			}
		}
		var last int64
		for row, err := range b.hub.Record().EventsAfter(t.Context(), 0) {
			if err != nil || row.Sequence != last+1 {
				t.Fatalf("number %d follows %d in the record, %v", row.Sequence, last, err)
			}
			last = row.Sequence
		}
		if last != int64(b.hub.Snapshot().Sequence) {
			t.Errorf("the record ends with number %d, the hub is at %d", last, b.hub.Snapshot().Sequence)
		}
	})
}
