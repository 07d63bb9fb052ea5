package grpcapi

import (
	"google.golang.org/protobuf/proto"

	"simmerline/hub"
	simmerlinepb "simmerline/proto/simmerline/v1"
)

// Mirror is a client's copy of what a hub last said. It takes the messages of
// one stream after the other, and is used by one goroutine at a time.
type Mirror struct {
	bench    *simmerlinepb.Bench
	state    *simmerlinepb.BenchState
	at       *simmerlinepb.Moment
	sequence uint64
}

// Take takes in a message of the stream. The message may not be changed later.
func (m *Mirror) Take(message *simmerlinepb.WatchResponse) {
	m.sequence, m.at = message.GetSequence(), message.GetAt()
	switch {
	case message.GetSnapshot() != nil:
		m.bench = message.GetSnapshot().GetBench()
		m.state = proto.CloneOf(message.GetSnapshot().GetState())
	case message.GetChange() != nil && m.state != nil:
		merge(m.state, message.GetChange().GetState())
	}
}

// Resume is what to ask the hub with in the next stream, so that no alarm event
// is missed.
func (m *Mirror) Resume(station bool) *simmerlinepb.WatchRequest {
	request := &simmerlinepb.WatchRequest{Station: station}
	if m.state != nil {
		request.ResumeAfter, request.ResumeRun = proto.Uint64(m.sequence), m.at.GetRun()
	}
	return request
}

// Snapshot is the hub's state as far as has been heard; nil before the first
// snapshot. Of the alarms it holds those that are not normal.
func (m *Mirror) Snapshot() *hub.Snapshot {
	if m.state == nil {
		return nil
	}
	return snapshotFromWire(m.bench, m.state, m.at, m.sequence)
}
