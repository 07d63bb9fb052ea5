package grpcapi

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
)

// errBroken is what a client is told of a fault of ours; the log has the rest.
var errBroken = errors.New("grpcapi: a fault in the hub kept it from answering; its log has more, and alarms go on")

// guarded keeps a fault in one call from ending the hub, which has alarms to
// watch. It is not meant for anything else: what goes wrong with data is an
// error, not a panic.
func (s *served) guarded(method string, do func() error) (err error) {
	defer func() {
		if fault := recover(); fault != nil {
			s.log.Error("a call failed by a fault in this program", "call", method, "fault", fmt.Sprint(fault), "stack", string(debug.Stack()))
			err = errBroken
		}
	}()
	return do()
}

func (s *served) guardUnary(ctx context.Context, request any, info *grpc.UnaryServerInfo, handle grpc.UnaryHandler) (answer any, err error) {
	err = s.guarded(info.FullMethod, func() error {
		answer, err = handle(ctx, request)
		return err
	})
	if message, is := answer.(proto.Message); is && err == nil {
		readable(message)
	}
	return answer, statusOf(err)
}

func (s *served) guardStream(service any, stream grpc.ServerStream, info *grpc.StreamServerInfo, handle grpc.StreamHandler) error {
	return statusOf(s.guarded(info.FullMethod, func() error { return handle(service, stream) }))
}
