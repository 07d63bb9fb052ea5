package grpcapi

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/durationpb"

	"simmerline/hub"
	"simmerline/rules"
)

func TestEveryRefusalHasItsCode(t *testing.T) {
	for _, test := range []struct {
		why    error
		code   codes.Code
		reason string
		field  string
	}{
		{rules.ErrNoSuchAlarm, codes.NotFound, "NO_SUCH_ALARM", "name"},
		{rules.ErrNotNow, codes.FailedPrecondition, "NOT_NOW", ""},
		{rules.ErrNoName, codes.InvalidArgument, "NO_NAME", "by"},
		{hub.ErrBadText, codes.InvalidArgument, "BAD_TEXT", ""},
		{hub.ErrSessionOpen, codes.FailedPrecondition, "SESSION_OPEN", ""},
		{hub.ErrNoSessionOpen, codes.FailedPrecondition, "NO_SESSION_OPEN", ""},
		{hub.ErrTooSlow, codes.ResourceExhausted, "TOO_SLOW", ""},
		{errTooMany, codes.ResourceExhausted, "TOO_MANY_WATCHING", ""},
		{hub.ErrStopping, codes.Unavailable, "STOPPING", ""},
		{errStarting, codes.Unavailable, "STARTING", ""},
		{context.Canceled, codes.Canceled, "", ""},
		{context.DeadlineExceeded, codes.DeadlineExceeded, "", ""},
		{errors.New("something else"), codes.Internal, "", ""},
	} {
		wrapped := fmt.Errorf("rules: %w: acknowledge it first", test.why)
		s := status.Convert(statusOf(wrapped))
		if s.Code() != test.code || s.Message() != wrapped.Error() {
			t.Errorf("%v: got %v %q, want %v", test.why, s.Code(), s.Message(), test.code)
		}
		var reason, field string
		for _, d := range s.Details() {
			switch d := d.(type) {
			case *errdetails.ErrorInfo:
				reason = d.GetReason()
			case *errdetails.BadRequest:
				field = d.GetFieldViolations()[0].GetField()
			}
		}
		if reason != test.reason || field != test.field {
			t.Errorf("%v: reason %q and field %q, want %q and %q", test.why, reason, field, test.reason, test.field)
		}
	}
	if statusOf(nil) != nil {
		t.Error("no error became one")
	}
	given := status.Error(codes.NotFound, "as it is")
	if got := statusOf(given); status.Code(got) != codes.NotFound {
		t.Errorf("a status became %v", got)
	}
}

// violations gives field by field what a status says is wrong.
func violations(err error) map[string]string {
	found := make(map[string]string)
	for _, d := range status.Convert(err).Details() {
		if bad, is := d.(*errdetails.BadRequest); is {
			for _, v := range bad.GetFieldViolations() {
				found[v.GetField()] = v.GetDescription()
			}
		}
	}
	return found
}

func TestEveryWrongFieldIsNamedAtOnce(t *testing.T) {
	var f fields
	f.needed("name", "  ", "give the alarm's name")
	f.who("")
	f.text("why", strings.Repeat("x", 201))
	f.text("text", "a\x1b[2Jb")
	f.ago("since", durationpb.New(25*time.Hour), furthestBack)
	f.ago("ago", durationpb.New(-time.Second), furthestBack)
	f.ago("broken", &durationpb.Duration{Seconds: 1, Nanos: -1}, furthestBack)
	f.pageToken("page_token", "abc")
	err := f.err()
	if code := status.Code(err); code != codes.InvalidArgument {
		t.Fatalf("the code is %v", code)
	}
	got := violations(err)
	for field, want := range map[string]string{
		"name": "is missing", "by": "is missing", "why": "shorten it to 200", "text": "U+001B", "since": "give 0s to 24h",
		"ago": "give 0s to 24h", "broken": "no length of time", "page_token": "next_page_token",
	} {
		if !strings.Contains(got[field], want) {
			t.Errorf("%s: %q does not say %q", field, got[field], want)
		}
	}
	if len(got) != 8 {
		t.Errorf("%d fields are named, want 8: %v", len(got), got)
	}
}

func TestGoodFieldsAreNoError(t *testing.T) {
	var f fields
	f.needed("name", "hot-sulfide-danger", "")
	f.who("Ärmel Ω")
	f.text("why", "")
	if got := f.ago("since", durationpb.New(20*time.Minute), furthestBack); got != 20*time.Minute {
		t.Errorf("20 minutes read as %v", got)
	}
	if got := f.ago("since", nil, furthestBack); got != 0 {
		t.Errorf("nothing read as %v", got)
	}
	if got := f.pageToken("page_token", "17"); got != 17 {
		t.Errorf("the token of 17 read as %d", got)
	}
	if err := f.err(); err != nil {
		t.Error(err)
	}
}
