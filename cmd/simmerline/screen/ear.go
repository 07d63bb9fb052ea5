package screen

import "time"

// When a hub that says nothing is shown to be silent, and when that is called
// out. A hub that lives says something at least once a second.
const (
	SilentAfter = 3 * time.Second
	CallAfter   = 8 * time.Second
)

// Ear notices when a hub falls silent, by the watch of whoever listens: it asks
// nobody, since a dead connection gives no error. Its times are offsets on a
// clock that never steps and that counts the listener's own sleep too.
type Ear struct {
	from  time.Duration // when it was last heard, or began to listen
	heard bool
	wall  time.Time // what the hub's clock said last; zero before it was heard
}

// NewEar begins to listen.
func NewEar(now time.Duration) Ear { return Ear{from: now} }

// Hear notes that the hub has said something, and what its clock said. It gives
// how long the hub had been silent, 0 where that was too short to be shown.
func (e *Ear) Hear(now time.Duration, wall time.Time) (silence time.Duration) {
	if e.heard && now-e.from >= SilentAfter {
		silence = now - e.from
	}
	e.from, e.heard, e.wall = now, true, wall
	return silence
}

// Silent says whether the hub counts as silent, and for how long it has been.
func (e Ear) Silent(now time.Duration) (lasted time.Duration, silent bool) {
	lasted = now - e.from
	return lasted, lasted >= SilentAfter
}

// Calls says whether the silence is to be sounded.
func (e Ear) Calls(now time.Duration) bool { return now-e.from >= CallAfter }

// Since is what the hub's own clock said when it was last heard; zero when it
// never was.
func (e Ear) Since() time.Time { return e.wall }
