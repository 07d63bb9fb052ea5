package stream

import (
	"context"
	"errors"
	"fmt"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"simmerline/hub"
	"simmerline/hub/grpcapi"
	simmerlinepb "simmerline/proto/simmerline/v1"
)

// The waits between attempts to reach a hub again, and how long the first
// message may take to come before there counts as being no hub.
const (
	firstWait   = 200 * time.Millisecond
	longestWait = 3 * time.Second
	beginWithin = 8 * time.Second
)

// ErrNotReached means that no message came at all: there is no hub at that
// address, or it refused.
var ErrNotReached = errors.New("the hub can't be reached")

// Message is one message of a hub and what it leads to.
type Message struct {
	Wire *simmerlinepb.WatchResponse
	// State is the state after the message.
	State *hub.Snapshot
	// Announcement is the alarm event or notice that the message is; nil for
	// any other.
	Announcement *hub.Announcement
}

// Stopping says whether the message is a hub's last: it stops on purpose.
func (m Message) Stopping() bool {
	return m.Wire.GetNotice().GetKind() == simmerlinepb.NoticeKind_NOTICE_KIND_STOPPING
}

// Missed says whether announcements before this message could not be found
// again after a break.
func (m Message) Missed() bool {
	return m.Wire.GetSnapshot().GetResumption() == simmerlinepb.Resumption_RESUMPTION_INCOMPLETE
}

// Hub gives every message of the hub at the other end to heard, one after the
// other, until ctx ends, which is no error. Breaks are bridged. With station the
// hub is told that here somebody can be called. It ends with ErrNotReached when
// the first attempt brings nothing, and with heard's error when that fails.
func Hub(ctx context.Context, connection grpc.ClientConnInterface, station bool, heard func(Message) error) error {
	f := following{
		client: simmerlinepb.NewWatchServiceClient(connection), station: station, heard: heard,
	}
	wait := firstWait
	for first := true; ; first = false {
		before := f.count
		err := f.once(ctx, first)
		switch {
		case ctx.Err() != nil:
			return nil
		case f.failed != nil:
			return f.failed
		case f.count == 0:
			return fmt.Errorf("stream: %w: %w", ErrNotReached, err)
		case f.count > before:
			wait = firstWait
		}
		timer := time.NewTimer(wait)
		select {
		case <-timer.C:
		case <-ctx.Done():
			timer.Stop()
			return nil
		}
		wait = min(wait*8/5, longestWait)
	}
}

// following is one listener over any number of streams.
type following struct {
	client  simmerlinepb.WatchServiceClient
	station bool
	heard   func(Message) error
	mirror  grpcapi.Mirror
	count   uint64 // messages so far
	failed  error  // heard's
}

// once follows one stream to its end.
func (f *following) once(ctx context.Context, first bool) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	if first {
		// A machine may take the call and never answer, as one that is stopped.
		late := time.AfterFunc(beginWithin, func() {
			cancel(status.Errorf(codes.DeadlineExceeded, "no answer within %s", beginWithin))
		})
		defer late.Stop()
		err := f.stream(ctx, func() { late.Stop() })
		if cause := context.Cause(ctx); err != nil && cause != nil {
			return cause
		}
		return err
	}
	return f.stream(ctx, func() {}, grpc.WaitForReady(true))
}

func (f *following) stream(ctx context.Context, began func(), options ...grpc.CallOption) error {
	stream, err := f.client.Watch(ctx, f.mirror.Resume(f.station), options...)
	if err != nil {
		return err
	}
	for {
		wire, err := stream.Recv()
		if err != nil {
			return err
		}
		began()
		f.count++
		f.mirror.Take(wire)
		m := Message{Wire: wire, State: f.mirror.Snapshot()}
		if a, ok := grpcapi.AnnouncementFromWire(wire); ok && !m.Stopping() {
			m.Announcement = &a
		}
		if f.failed = f.heard(m); f.failed != nil {
			return f.failed
		}
	}
}
