package record

import (
	"testing"
	"testing/synctest"
	"time"
)

// A disk may hang for minutes without an error.
func TestHangingDiskIsFailing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLayer(t)
		r := open(t, t.TempDir(), Options{layer: l.name})
		begin(t, r)
		wakes := make(chan struct{})
		l.failWith(func(change) error { // note holds the layer's lock meanwhile: nothing else gets through
			<-wakes
			return nil
		})
		if err := r.AddEvent(Event{Sequence: 1, Moment: Moment{At: 1}}, nil, nil); err != nil {
			t.Fatal(err)
		}
		time.Sleep(hangsAfter - time.Second)
		if h := r.Health(); h.Failing {
			t.Errorf("failing too soon: %v", h)
		}
		time.Sleep(2 * time.Second)
		if h := r.Health(); !h.Failing || h.Err == nil {
			t.Errorf("a disk that hangs for %s: %+v", hangsAfter, h)
		}
		close(wakes)
		synctest.Wait()
		if h := r.Health(); h.Failing {
			t.Errorf("still failing once it answers: %v", h)
		}
	})
}
