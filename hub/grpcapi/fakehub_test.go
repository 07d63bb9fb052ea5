package grpcapi

import (
	"context"
	"io"
	"log/slog"
	"net"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/test/bufconn"

	"simmerline/hub"
	"simmerline/rules"
)

// fakeHub is a hub whose every word the test gives.
type fakeHub struct {
	state atomic.Pointer[hub.Snapshot]
	stuck atomic.Bool
	// first is what a client is given when it comes.
	first func(hub.WatchOptions) hub.Update

	acknowledge func(alarm, by, why string) (rules.AlarmView, hub.Recorded, error)
	start       func(name string, since time.Duration, by string) (hub.Session, hub.Recorded, error)
	sessions    []hub.Session

	mu       sync.Mutex // guards all below
	watchers map[*fakeWatcher]struct{}
}

func newFakeHub() *fakeHub {
	h := &fakeHub{watchers: make(map[*fakeWatcher]struct{})}
	h.state.Store(stateAt(5, time.Second))
	h.first = func(hub.WatchOptions) hub.Update { return hub.Update{State: h.state.Load()} }
	return h
}

func (h *fakeHub) Snapshot() *hub.Snapshot { return h.state.Load() }
func (h *fakeHub) Alive() bool             { return !h.stuck.Load() }

func (h *fakeHub) Watch(_ context.Context, o hub.WatchOptions) (Watcher, error) {
	w := &fakeWatcher{hub: h, given: make(chan hub.Update, 1<<16), ended: make(chan error, 1)}
	w.given <- h.first(o)
	h.mu.Lock()
	defer h.mu.Unlock()
	h.watchers[w] = struct{}{}
	return w, nil
}

func (h *fakeHub) Acknowledge(_ context.Context, alarm, by, why string) (rules.AlarmView, hub.Recorded, error) {
	return h.acknowledge(alarm, by, why)
}

func (h *fakeHub) Reset(context.Context, string, string, string) (rules.AlarmView, hub.Recorded, error) {
	return rules.AlarmView{}, hub.RecordedNo, rules.ErrNotNow
}

func (h *fakeHub) PutAway(context.Context, string, string) (hub.Recorded, error) {
	return hub.RecordedNo, rules.ErrNotNow
}

func (h *fakeHub) TakeIntoUse(context.Context, string) (hub.Recorded, error) {
	return hub.RecordedSynced, nil
}

func (h *fakeHub) StartSession(_ context.Context, name string, since time.Duration, by string) (hub.Session, hub.Recorded, error) {
	return h.start(name, since, by)
}

func (h *fakeHub) EndSession(context.Context, string) (hub.Session, hub.Recorded, error) {
	return hub.Session{}, hub.RecordedNo, hub.ErrNoSessionOpen
}

func (h *fakeHub) Mark(context.Context, string, string) (hub.Recorded, error) {
	panic("a fault that a test put here")
}

func (h *fakeHub) Sessions(context.Context) ([]hub.Session, error) { return h.sessions, nil }

// tell gives every client an update.
func (h *fakeHub) tell(u hub.Update) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for w := range h.watchers {
		w.given <- u
	}
}

// end ends every watch.
func (h *fakeHub) end(why error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for w := range h.watchers {
		w.ended <- why
	}
}

func (h *fakeHub) watching() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.watchers)
}

type fakeWatcher struct {
	hub   *fakeHub
	given chan hub.Update
	ended chan error
}

func (w *fakeWatcher) Next(ctx context.Context) (hub.Update, error) {
	select {
	case u := <-w.given:
		return u, nil
	default:
	}
	select {
	case u := <-w.given:
		return u, nil
	case err := <-w.ended:
		return hub.Update{}, err
	case <-ctx.Done():
		return hub.Update{}, ctx.Err()
	}
}

func (w *fakeWatcher) Close() {
	w.hub.mu.Lock()
	defer w.hub.mu.Unlock()
	delete(w.hub.watchers, w)
}

// station is a hub served over a pipe, and a client of it.
type station struct {
	hub     *fakeHub
	client  *grpc.ClientConn
	connect func(...grpc.DialOption) *grpc.ClientConn // makes a connection more
	dials   atomic.Int32
	network func(net.Conn) net.Conn // what lies between
	stop    func()
}

// inBubble runs a test in a bubble of its own time, with a served hub. When
// the test returns everything is stopped; the bubble then sees to it that no
// goroutine is left.
func inBubble(t *testing.T, prepare func(*station), test func(*testing.T, context.Context, *station)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		s := &station{hub: newFakeHub(), network: func(c net.Conn) net.Conn { return c }}
		if prepare != nil {
			prepare(s)
		}
		server, err := New(Options{Hub: s.hub, Bench: testBench(), Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
		if err != nil {
			t.Fatal(err)
		}
		listener := bufconn.Listen(256 << 10)
		ctx, cancel := context.WithCancel(context.Background())
		served := make(chan struct{})
		go func() {
			defer close(served)
			if err := server.Serve(ctx, listener); err != nil {
				t.Errorf("Serve: %v", err)
			}
		}()
		// Waiting on a channel lets the bubble's time go on; on a lock it would not.
		s.stop = func() {
			cancel()
			<-served
		}
		dial := func(ctx context.Context, _ string) (net.Conn, error) {
			s.dials.Add(1)
			conn, err := listener.DialContext(ctx)
			if err != nil {
				return nil, err
			}
			return s.network(conn), nil
		}
		s.connect = func(options ...grpc.DialOption) *grpc.ClientConn {
			// A window of a fixed size fills soon when a client takes nothing.
			options = append(options, grpc.WithContextDialer(dial), grpc.WithInitialWindowSize(64<<10))
			client, err := Dial("127.0.0.1:7410", options...)
			if err != nil {
				t.Fatal(err)
			}
			return client
		}
		s.client = s.connect()
		callCtx, stopCalls := context.WithTimeout(context.Background(), 24*time.Hour)
		test(t, callCtx, s)
		stopCalls()
		if err := s.client.Close(); err != nil {
			t.Errorf("closing the client: %v", err)
		}
		s.stop()
	})
}

// cable carries bytes until it is cut; then it swallows them, and tells nobody,
// as a network does whose other end has lost its power.
type cable struct {
	net.Conn
	cut    *atomic.Bool
	closed context.Context
	close  context.CancelFunc
}

func newCable(conn net.Conn, cut *atomic.Bool) net.Conn {
	closed, closeIt := context.WithCancel(context.Background())
	return cable{conn, cut, closed, closeIt}
}

func (c cable) Read(p []byte) (int, error) {
	n, err := c.Conn.Read(p)
	if c.cut.Load() {
		<-c.closed.Done()
		return 0, net.ErrClosed
	}
	return n, err
}

func (c cable) Write(p []byte) (int, error) {
	if c.cut.Load() {
		return len(p), nil
	}
	return c.Conn.Write(p)
}

func (c cable) Close() error {
	c.close()
	return c.Conn.Close()
}
