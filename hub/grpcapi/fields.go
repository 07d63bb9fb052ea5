package grpcapi

import (
	"fmt"
	"strings"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/durationpb"

	"simmerline/hub"
)

// fields collects what is wrong with the arguments of a call, so that all of it
// is told at once and each with the name of its field.
type fields struct {
	violations []*errdetails.BadRequest_FieldViolation
}

func (f *fields) wrong(field, format string, args ...any) {
	f.violations = append(f.violations, &errdetails.BadRequest_FieldViolation{
		Field: field, Description: fmt.Sprintf(format, args...),
	})
}

// needed wants a text that may not be empty.
func (f *fields) needed(field, text, mend string) {
	if !hub.Shows(text) {
		f.wrong(field, "is missing: %s", mend)
		return
	}
	f.text(field, text)
}

// who wants to know who asks.
func (f *fields) who(by string) { f.needed("by", by, "say who asks") }

// text wants what can be shown and kept.
func (f *fields) text(field, text string) {
	if fault := hub.TextFault(text); fault != "" {
		f.wrong(field, "%s", fault)
	}
}

// ago wants a length of time that reaches back from now at most so far.
func (f *fields) ago(field string, d *durationpb.Duration, most time.Duration) time.Duration {
	if d == nil {
		return 0
	}
	if err := d.CheckValid(); err != nil {
		f.wrong(field, "is no length of time: give 0s to %s", most)
		return 0
	}
	ago := d.AsDuration()
	if ago < 0 || ago > most {
		f.wrong(field, "is %s: give 0s to %s", ago, most)
	}
	return ago
}

// err is InvalidArgument when anything is wrong.
func (f *fields) err() error {
	if len(f.violations) == 0 {
		return nil
	}
	said := make([]string, 0, len(f.violations))
	for _, v := range f.violations {
		said = append(said, v.GetField()+" "+v.GetDescription())
	}
	s := status.New(codes.InvalidArgument, strings.Join(said, "; "))
	return withDetails(s, &errdetails.BadRequest{FieldViolations: f.violations})
}
