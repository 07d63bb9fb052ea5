package grpcapi

import (
	"context"
	"errors"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/protoadapt"

	"simmerline/hub"
	"simmerline/hub/record"
	"simmerline/rules"
)

// domain is where the reasons of our errors mean something.
const domain = "simmerline.v1"

// refusals is the one table from why something is refused to what a client is
// told. The first row that fits counts.
var refusals = []struct {
	why    error
	code   codes.Code
	reason string // for programs: google.rpc.ErrorInfo
	field  string // the argument that is at fault, where one is known to be
}{
	{rules.ErrNoSuchAlarm, codes.NotFound, "NO_SUCH_ALARM", "name"},
	{rules.ErrNoName, codes.InvalidArgument, "NO_NAME", "by"},
	{rules.ErrNotNow, codes.FailedPrecondition, "NOT_NOW", ""},
	{hub.ErrBadText, codes.InvalidArgument, "BAD_TEXT", ""},
	{hub.ErrSessionOpen, codes.FailedPrecondition, "SESSION_OPEN", ""},
	{hub.ErrNoSessionOpen, codes.FailedPrecondition, "NO_SESSION_OPEN", ""},
	{record.ErrNotFound, codes.NotFound, "NO_SUCH_SESSION", "session"},
	{errStarting, codes.Unavailable, "STARTING", ""},
	{errBroken, codes.Internal, "", ""},
	{errTooMany, codes.ResourceExhausted, "TOO_MANY_WATCHING", ""},
	{hub.ErrTooSlow, codes.ResourceExhausted, "TOO_SLOW", ""},
	{hub.ErrStopping, codes.Unavailable, "STOPPING", ""},
	{context.DeadlineExceeded, codes.DeadlineExceeded, "", ""},
	{context.Canceled, codes.Canceled, "", ""},
}

// statusOf makes the error of a call from what the hub said. An error that is a
// status already stays as it is.
func statusOf(err error) error {
	if err == nil {
		return nil
	}
	if _, is := status.FromError(err); is {
		return err
	}
	for _, r := range refusals {
		if !errors.Is(err, r.why) {
			continue
		}
		var details []protoadapt.MessageV1
		if r.reason != "" {
			details = append(details, &errdetails.ErrorInfo{Reason: r.reason, Domain: domain})
		}
		if r.field != "" {
			details = append(details, &errdetails.BadRequest{FieldViolations: []*errdetails.BadRequest_FieldViolation{
				{Field: r.field, Description: err.Error()},
			}})
		}
		return withDetails(status.New(r.code, err.Error()), details...)
	}
	return status.Error(codes.Internal, err.Error())
}

// withDetails adds details. They can only be refused by a status that is OK or
// by a message that can't be marshalled; the bare status then says enough.
func withDetails(s *status.Status, details ...protoadapt.MessageV1) error {
	if detailed, err := s.WithDetails(details...); err == nil {
		return detailed.Err()
	}
	return s.Err()
}

// errStarting is told before the hub has published its first state.
var errStarting = errors.New("grpcapi: the hub is starting; ask again in a second")
