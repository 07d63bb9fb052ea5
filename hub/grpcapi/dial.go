package grpcapi

import (
	"fmt"
	"net"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/backoff"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/keepalive"
)

// redialAtMost is the longest wait between attempts to reach a hub again. Left
// to itself gRPC would come to wait two minutes, in which nobody is told.
const redialAtMost = 3 * time.Second

// Dial makes a connection to the hub at host:port. It does not reach out yet:
// the first call does, and fails where there is no hub. The wire is in the
// clear unless options say otherwise, so it is for this machine alone.
func Dial(address string, options ...grpc.DialOption) (*grpc.ClientConn, error) {
	host, port, err := net.SplitHostPort(address)
	if err != nil || port == "" {
		return nil, fmt.Errorf("grpcapi: %q is no address of a hub: give host:port, as 127.0.0.1:7410", address)
	}
	if host == "" {
		address = net.JoinHostPort("127.0.0.1", port)
	}
	all := append([]grpc.DialOption{
		grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithKeepaliveParams(keepalive.ClientParameters{
			Time: keepaliveEvery, Timeout: keepaliveWait, PermitWithoutStream: true,
		}),
		grpc.WithConnectParams(grpc.ConnectParams{
			Backoff: backoff.Config{
				BaseDelay: 200 * time.Millisecond, Multiplier: 1.6, Jitter: 0.2, MaxDelay: redialAtMost,
			},
			MinConnectTimeout: redialAtMost,
		}),
		// A hub is on this machine or in this house, never behind a proxy.
		grpc.WithNoProxy(),
	}, options...)
	// The address is dialled as it is, by the system's own resolver: gRPC's
	// would look for services and knows no .local names.
	connection, err := grpc.NewClient("passthrough:///"+address, all...)
	if err != nil {
		return nil, fmt.Errorf("grpcapi: can't make a connection to %s: %w", address, err)
	}
	return connection, nil
}
