package poll

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestBackoff(t *testing.T) {
	var b backoff
	for i, want := range []float64{0.5, 1, 2, 4, 5, 5, 5} {
		if got := b.next(); got.Seconds() != want {
			t.Errorf("wait %d is %v, want %v s", i, got, want)
		}
	}
	b.reset()
	if got := b.next(); got != backoffLeast {
		t.Errorf("after a reset it is %v", got)
	}
}

// TestBackoffStaysWithinItsBounds holds it against plain doubling.
func TestBackoffStaysWithinItsBounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var b backoff
		slow := backoffLeast
		for range rapid.IntRange(1, 200).Draw(t, "calls") {
			if rapid.IntRange(0, 9).Draw(t, "useful") == 0 {
				b.reset()
				slow = backoffLeast
			}
			if got := b.next(); got != slow {
				t.Fatalf("waits %v, want %v", got, slow)
			}
			slow = min(2*slow, 5*time.Second)
		}
	})
}
