package grpcapi

import (
	"context"
	"errors"
	"time"

	"google.golang.org/grpc"

	"simmerline/hub"
	simmerlinepb "simmerline/proto/simmerline/v1"
)

// sendLimit is how long a client may take nothing at all before it is cut off.
// Long before that it has shown its hub as silent.
const sendLimit = 10 * time.Second

// mostWatching is how many clients may watch at once.
const mostWatching = 64

// errTooMany is wrapped with what to do about it.
var errTooMany = errors.New("grpcapi: as many clients watch as this hub serves; close one that is not needed")

// watchService streams what happens.
type watchService struct {
	simmerlinepb.UnimplementedWatchServiceServer
	*served
}

// Watch hands the stream to one goroutine, which alone sends on it, and stays
// behind to end the stream when a send does not return: that can't be called
// off from inside.
func (s watchService) Watch(r *simmerlinepb.WatchRequest, stream grpc.ServerStreamingServer[simmerlinepb.WatchResponse]) error {
	if s.watching.Add(1) > mostWatching {
		s.watching.Add(-1)
		return statusOf(errTooMany)
	}
	defer s.watching.Add(-1)
	ctx, stop := context.WithCancelCause(stream.Context())
	defer stop(nil)
	defer context.AfterFunc(s.stopping, func() { stop(hub.ErrStopping) })()

	watcher, err := s.hub.Watch(ctx, hub.WatchOptions{
		Resume: r.ResumeAfter != nil, Run: r.GetResumeRun(), After: r.GetResumeAfter(), Station: r.GetStation(),
	})
	if err != nil {
		return statusOf(err)
	}
	defer watcher.Close()
	stuck := make(chan struct{})
	limit := time.AfterFunc(sendLimit, func() { close(stuck) })
	limit.Stop()
	follower := follower{
		progress: progress{bench: s.bench, newest: s.hub.Snapshot, resumes: r.ResumeAfter != nil},
		watcher:  watcher,
		send: func(m *simmerlinepb.WatchResponse) error {
			limit.Reset(sendLimit)
			defer limit.Stop()
			return stream.Send(m)
		},
	}
	ended := make(chan error, 1)
	go func() { ended <- s.guarded("Watch", func() error { return follower.follow(ctx) }) }()
	select {
	case err = <-ended:
	case <-stuck:
		err = hub.ErrTooSlow
	case <-stream.Context().Done():
		err = stream.Context().Err()
	}
	return statusOf(err)
}

// follower gives one client what its watcher brings.
type follower struct {
	progress progress
	watcher  Watcher
	send     func(*simmerlinepb.WatchResponse) error
}

// follow ends with the reason why the stream does.
func (f *follower) follow(ctx context.Context) error {
	for {
		update, err := f.watcher.Next(ctx)
		if err != nil && context.Cause(ctx) != nil {
			err = context.Cause(ctx)
		}
		messages := f.progress.messages(update)
		if errors.Is(err, hub.ErrStopping) {
			messages = append(messages, f.progress.stopping())
		}
		for _, m := range messages {
			if err := f.send(m); err != nil {
				return err
			}
		}
		if err != nil {
			return err
		}
	}
}
