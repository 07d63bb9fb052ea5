package poll

import "time"

const (
	backoffLeast = 500 * time.Millisecond
	backoffMost  = 5 * time.Second
)

// backoff is how long to wait before a port is opened again: half a second at
// first, twice as long after each failure, five seconds at most. It has no
// jitter: each port waits for its own device.
type backoff struct{ failures int }

// next counts a failure and gives the wait after it.
func (b *backoff) next() time.Duration {
	wait := backoffMost
	if b.failures < 4 { // the fourth doubling is past the most
		wait = min(backoffLeast<<b.failures, backoffMost)
	}
	b.failures++
	return wait
}

// reset forgets the failures, once the port has been of use.
func (b *backoff) reset() { b.failures = 0 }
