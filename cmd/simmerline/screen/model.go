package screen

import (
	"slices"
	"time"

	"simmerline/hub"
	"simmerline/rules"
)

// Options are what a reader chooses.
type Options struct {
	Units Units
	// Mute keeps this screen quiet; the hub then does not count on it.
	Mute bool
	// Name is who acknowledges here; where it is empty it is asked for once.
	Name string
	// Zone is where clock times are read; the machine's own where nil.
	Zone *time.Location
}

const (
	keptLatest = 40               // announcements
	noteStays  = 15 * time.Second // the answer to a key
	// returnStays is how long it stays on the screen that a silence has ended.
	returnStays = 2 * time.Minute
	// paceNeeds is how long a hub must be listened to before its pace is known.
	paceNeeds = 2 * time.Second
)

// Model is what a live view knows. Its times are offsets on the viewer's own
// clock, as Ear's are. The zero value is not usable: NewModel makes one.
type Model struct {
	options  Options
	ear      Ear
	snapshot *hub.Snapshot
	latest   []hub.Announcement // the newest last
	missed   bool               // some could not be found again after a break
	stopped  bool               // the hub has said that it stops
	returned silence
	pace     pace
	rungAt   time.Duration
	rung     bool
	dialog   dialog
	note     note
	help     bool
}

// silence is one that has ended.
type silence struct {
	lasted, endedAt time.Duration
	from            time.Time
}

// note is a short answer on the screen.
type note struct {
	text  string
	until time.Duration
}

// NewModel makes the view of a hub that has not been heard yet.
func NewModel(o Options, now time.Duration) *Model {
	o.Name = Printable(o.Name)
	return &Model{options: o, ear: NewEar(now)}
}

// Said is one message of a hub. Snapshot is the state that it leads to;
// Announcement is nil where it is none; Missed says that announcements before
// it could not be found again.
type Said struct {
	Snapshot     *hub.Snapshot
	Announcement *hub.Announcement
	Stopping     bool
	Missed       bool
}

// Heard takes in a message.
func (m *Model) Heard(now time.Duration, said Said) {
	if said.Snapshot == nil {
		return
	}
	from := m.ear.Since()
	if lasted := m.ear.Hear(now, said.Snapshot.Wall); lasted > 0 {
		m.returned = silence{lasted: lasted, endedAt: now, from: from}
		m.pace = pace{}
	}
	m.snapshot, m.stopped = said.Snapshot, said.Stopping
	m.missed = m.missed || said.Missed
	m.pace.follow(now, said.Snapshot)
	if said.Announcement != nil {
		m.latest = append(m.latest, *said.Announcement)
		if over := len(m.latest) - keptLatest; over > 0 {
			m.latest = slices.Delete(m.latest, 0, over)
		}
	}
}

// Answered shows how a request of this screen went.
func (m *Model) Answered(now time.Duration, text string) {
	m.note = note{text: Printable(text), until: now + noteStays}
}

// Tick lets time pass, and says whether the bell is to ring at this moment.
func (m *Model) Tick(now time.Duration) (ring bool) {
	every := m.ringsEvery(now)
	switch {
	case every == 0:
		m.rung = false
		return false
	case m.rung && now-m.rungAt < every:
		return false
	}
	m.rung, m.rungAt = true, now
	return true
}

// How often the bell rings. A bell has one pitch and one length: only its pace
// can tell a danger from a warning. Both are even, which no fire or carbon
// monoxide pattern is.
const (
	ringDanger  = time.Second
	ringWarning = 4 * time.Second
)

func (m *Model) ringsEvery(now time.Duration) time.Duration {
	switch {
	case m.options.Mute:
		return 0
	case m.ear.Calls(now):
		return ringDanger
	case m.snapshot == nil:
		return 0
	}
	switch m.snapshot.View.Sounding {
	case rules.Danger:
		return ringDanger
	case rules.Warning:
		return ringWarning
	default:
		return 0
	}
}

// pace is how fast the hub's clock runs against the viewer's: 1 for a real
// bench, more in a demo that is sped up.
type pace struct {
	run  uint64
	from time.Duration // of the viewer's clock
	hub  time.Duration // what the hub's clock said then
	now  float64       // 0 until it is known
}

func (p *pace) follow(now time.Duration, s *hub.Snapshot) {
	if p.run != s.Run || p.run == 0 {
		*p = pace{run: s.Run, from: now, hub: s.At}
	}
	if now-p.from >= paceNeeds {
		p.now = max(1, float64(s.At-p.hub)/float64(now-p.from))
	}
}

// old says whether a reading of this age is old for the viewer: no newer one
// has come for two seconds of the viewer's time.
func (p pace) old(age time.Duration) bool {
	return p.now > 0 && age > time.Duration(2*p.now*float64(time.Second))
}
