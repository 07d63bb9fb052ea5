package grpcapi

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"sync/atomic"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/health"
	healthgrpc "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/keepalive"
	"google.golang.org/grpc/reflection"

	"simmerline/hub"
	"simmerline/hub/bench"
	simmerlinepb "simmerline/proto/simmerline/v1"
)

// How the server treats its connections. Both sides ping: a client whose
// network has gone is noticed within keepaliveEvery + keepaliveWait.
const (
	keepaliveEvery = 10 * time.Second
	keepaliveWait  = 5 * time.Second
	// keepaliveLeast is how often a client may ping at most; it is below what
	// our own clients do, so that a ping that comes early is no offence.
	keepaliveLeast = 5 * time.Second
	// streamsMost bounds the calls of one connection at once.
	streamsMost = 64
	// requestMost bounds a request in bytes; the longest holds three short texts.
	requestMost = 64 << 10
	handshake   = 10 * time.Second
	// stopWithin is how long calls may take to end once the server stops.
	stopWithin = 3 * time.Second
)

// Options are what a server needs.
type Options struct {
	Hub   Hub
	Bench *bench.Bench
	Log   *slog.Logger
	// Extra is for the caller's own options, as credentials.
	Extra []grpc.ServerOption
}

// served is what the services share.
type served struct {
	hub      Hub
	bench    *bench.Bench
	log      *slog.Logger
	stopping context.Context // ends when the server begins to stop
	watching atomic.Int64
}

// snapshot is the newest state, or Unavailable while there is none.
func (s *served) snapshot() (*hub.Snapshot, error) {
	if snapshot := s.hub.Snapshot(); snapshot != nil {
		return snapshot, nil
	}
	return nil, statusOf(errStarting)
}

// Server serves a hub over gRPC.
type Server struct {
	grpc   *grpc.Server
	served *served
	health *health.Server
	stop   context.CancelFunc
}

// New makes a server with every service registered. It serves nothing yet.
func New(o Options) (*Server, error) {
	if o.Hub == nil || o.Bench == nil || o.Log == nil {
		return nil, errors.New("grpcapi: hub, bench and log are needed")
	}
	stopping, stop := context.WithCancel(context.Background())
	s := &served{hub: o.Hub, bench: o.Bench, log: o.Log, stopping: stopping}
	server := &Server{
		served: s, stop: stop, health: health.NewServer(),
		grpc: grpc.NewServer(append(serverOptions(s), o.Extra...)...),
	}
	simmerlinepb.RegisterBenchServiceServer(server.grpc, benchService{served: s})
	simmerlinepb.RegisterAlarmServiceServer(server.grpc, alarmService{served: s})
	simmerlinepb.RegisterSessionServiceServer(server.grpc, sessionService{served: s})
	simmerlinepb.RegisterWatchServiceServer(server.grpc, watchService{served: s})
	healthgrpc.RegisterHealthServer(server.grpc, server.health)
	reflection.Register(server.grpc)
	return server, nil
}

func serverOptions(s *served) []grpc.ServerOption {
	return []grpc.ServerOption{
		grpc.KeepaliveParams(keepalive.ServerParameters{Time: keepaliveEvery, Timeout: keepaliveWait}),
		grpc.KeepaliveEnforcementPolicy(keepalive.EnforcementPolicy{MinTime: keepaliveLeast, PermitWithoutStream: true}),
		grpc.MaxConcurrentStreams(streamsMost),
		grpc.MaxRecvMsgSize(requestMost),
		grpc.ConnectionTimeout(handshake),
		grpc.UnaryInterceptor(s.guardUnary),
		grpc.StreamInterceptor(s.guardStream),
	}
}

// Serve serves on a listener until ctx ends, which is no error. Streams are
// then told that the hub stops; what has not ended within stopWithin is cut.
func (s *Server) Serve(ctx context.Context, listener net.Listener) error {
	watched := make(chan struct{})
	go func() {
		defer close(watched)
		s.watchHealth()
	}()
	stopped := make(chan struct{})
	ends := context.AfterFunc(ctx, func() {
		defer close(stopped)
		s.shutDown()
	})
	err := s.grpc.Serve(listener)
	if ends() {
		// It ended by itself, so nobody else stops the rest.
		close(stopped)
		s.shutDown()
	}
	<-stopped
	<-watched
	if err != nil && ctx.Err() == nil {
		return fmt.Errorf("grpcapi: serving on %s: %w", listener.Addr(), err)
	}
	return nil
}

// shutDown ends every stream, then the server.
func (s *Server) shutDown() {
	s.stop()
	cut := time.AfterFunc(stopWithin, s.grpc.Stop)
	defer cut.Stop()
	s.grpc.GracefulStop()
}
