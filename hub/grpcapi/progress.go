package grpcapi

import (
	"simmerline/hub"
	"simmerline/hub/bench"
	simmerlinepb "simmerline/proto/simmerline/v1"
)

// progress is how far one client has been told. It turns what a watcher brings
// into messages, and starts nothing and waits for nothing.
type progress struct {
	bench   *bench.Bench
	newest  func() *hub.Snapshot // for the moment, where an update brings no state
	resumes bool                 // the client came with a number

	began    bool
	sequence uint64                   // every announcement up to here has been sent
	moment   instant                  // the newest that the client has been told
	sent     *simmerlinepb.BenchState // what the client makes of all changes so far
}

// messages gives what to send of an update, in order: at first the snapshot,
// then always announcements before the state that includes them.
func (p *progress) messages(u hub.Update) []*simmerlinepb.WatchResponse {
	var out []*simmerlinepb.WatchResponse
	if !p.began {
		if u.State == nil {
			return nil
		}
		out = append(out, p.begin(u))
		u.State = nil
	}
	for _, a := range u.Announcements {
		if a.Sequence <= p.sequence {
			continue
		}
		p.sequence = a.Sequence
		p.advance(instant{a.Run, a.At, a.Wall})
		out = append(out, p.announcement(a))
	}
	if u.State != nil {
		p.advance(momentOf(u.State))
		next := readable(stateToWire(u.State))
		if d := diff(p.sent, next); d != nil {
			p.sent = next
			m := p.message()
			m.Message = &simmerlinepb.WatchResponse_Change{Change: &simmerlinepb.Change{State: d}}
			out = append(out, m)
		}
	}
	if u.Heartbeat {
		if s := p.newest(); s != nil {
			p.advance(momentOf(s))
		}
		m := p.message()
		m.Message = &simmerlinepb.WatchResponse_Heartbeat{Heartbeat: &simmerlinepb.Heartbeat{}}
		out = append(out, m)
	}
	return out
}

// begin gives the snapshot. Its number is what the client came with as long as
// announcements after that are still to be sent: were the stream to break in
// between, the client would come back with the right one.
func (p *progress) begin(u hub.Update) *simmerlinepb.WatchResponse {
	p.began = true
	p.sequence = u.State.Sequence
	snapshot := &simmerlinepb.Snapshot{Bench: benchToWire(p.bench, u.State.View), State: stateToWire(u.State)}
	switch {
	case p.resumes && u.Incomplete:
		snapshot.Resumption = simmerlinepb.Resumption_RESUMPTION_INCOMPLETE
	case p.resumes:
		snapshot.Resumption = simmerlinepb.Resumption_RESUMPTION_COMPLETE
	}
	if len(u.Announcements) > 0 {
		p.sequence = min(p.sequence, u.Announcements[0].Sequence-1)
	}
	p.sent = snapshot.GetState()
	p.advance(momentOf(u.State))
	m := p.message()
	m.Message = &simmerlinepb.WatchResponse_Snapshot{Snapshot: snapshot}
	return readable(m)
}

func (p *progress) announcement(a hub.Announcement) *simmerlinepb.WatchResponse {
	m := p.message()
	if a.Alarm != nil {
		m.Message = &simmerlinepb.WatchResponse_AlarmEvent{AlarmEvent: eventToWire(a)}
	} else {
		m.Message = &simmerlinepb.WatchResponse_Notice{Notice: noticeToWire(a)}
	}
	return readable(m)
}

// stopping is the last message of a stream that the hub ends.
func (p *progress) stopping() *simmerlinepb.WatchResponse {
	m := p.message()
	m.Message = &simmerlinepb.WatchResponse_Notice{Notice: &simmerlinepb.Notice{
		Kind: simmerlinepb.NoticeKind_NOTICE_KIND_STOPPING, At: m.GetAt(),
		Sentence: "The hub is being stopped: from now on it watches nothing and calls nobody.",
	}}
	return m
}

// message is a message without its part.
func (p *progress) message() *simmerlinepb.WatchResponse {
	return &simmerlinepb.WatchResponse{Sequence: p.sequence, At: p.moment.wire()}
}

// advance keeps the newest moment; announcements of long ago are older.
func (p *progress) advance(m instant) {
	if m.after(p.moment) {
		p.moment = m
	}
}

func momentOf(s *hub.Snapshot) instant { return instant{s.Run, s.At, s.Wall} }
