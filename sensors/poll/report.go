package poll

import (
	"time"

	"simmerline/sensors"
)

// tellEvery is how often a status is told that differs in nothing but its
// counts or its words.
const tellEvery = time.Second

// report is the port's status and what has been told of it.
type report struct {
	status sensors.PortStatus
	told   sensors.PortStatus
	toldAt time.Duration
	any    bool // something has been told
}

// due gives a copy of the status when it is time to tell it.
func (r *report) due(now time.Duration) *sensors.PortStatus {
	changed := !r.any || r.status.State != r.told.State
	if !changed && (r.status == r.told || now-r.toldAt < tellEvery) {
		return nil
	}
	r.told, r.toldAt, r.any = r.status, now, true
	told := r.status
	return &told
}

// set puts the port into a state, with a sentence on it, and tells it.
func (p *poller) set(state sensors.PortState, detail string) {
	s := &p.report.status
	if s.State != state {
		s.State, s.Since = state, p.Clock.Now()
	}
	s.Detail = detail
	p.tell(nil)
}

// tell hands readings on, with the status when that is due.
func (p *poller) tell(readings []sensors.Reading) {
	now := p.Clock.Now()
	status := p.report.due(now)
	if len(readings) == 0 && status == nil {
		return
	}
	p.Deliver(sensors.Batch{Port: p.Config.Name, At: now, Readings: readings, Status: status})
}
