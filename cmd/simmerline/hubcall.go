package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"simmerline/hub/grpcapi"
)

// defaultHub is where a hub serves programs when nobody says otherwise.
const defaultHub = "127.0.0.1:7410"

// callWithin is how long an answer may take. The hub itself waits up to a
// second for its disk.
const callWithin = 5 * time.Second

// hubFlag says which hub a command is about.
type hubFlag struct {
	Hub string `default:"127.0.0.1:7410" placeholder:"ADDR" help:"Where the hub is (${default})."`
}

// whoFlags say who acts, and why.
type whoFlags struct {
	By  string `required:"" placeholder:"WHO" help:"Who does it: it is kept with it."`
	Why string `placeholder:"TEXT" help:"A word on why."`
}

// call does something with the hub at an address within a time, and tells in
// plain words why that can't be.
func call(address string, within time.Duration, do func(context.Context, *grpc.ClientConn) error) error {
	connection, err := grpcapi.Dial(address)
	if err != nil {
		return wrongUse("--hub %s is no address: give host:port, as %s", address, defaultHub)
	}
	defer connection.Close()
	ctx, cancel := context.WithTimeout(context.Background(), within)
	defer cancel()
	return explain(address, do(ctx, connection))
}

// explain turns the status of a call into what a person needs to know, with the
// exit code that belongs to it. Other errors stay as they are.
func explain(address string, err error) error {
	s, is := status.FromError(err)
	if err == nil || !is {
		return err
	}
	reason := reasonOf(s)
	switch s.Code() {
	case codes.Unavailable:
		if reason != "" { // the hub itself says so: it is starting or stopping
			return unreachable(fmt.Errorf("the hub at %s: %s", address, plainly(s.Message())))
		}
		return unreachable(fmt.Errorf("no hub answers at %s. Is 'simmerline serve' running there? It prints its address when it starts: give it with --hub", address))
	case codes.DeadlineExceeded:
		return unreachable(fmt.Errorf("the hub at %s did not answer in time. Is that its address, and is its machine awake?", address))
	case codes.Unimplemented:
		return fmt.Errorf("the hub at %s does not know how to do this: it is of another version than this program, or no hub", address)
	case codes.InvalidArgument:
		return &exitError{code: exitWrongUse, err: fmt.Errorf("%s", argumentFaults(s))}
	default:
		return fmt.Errorf("%s", plainly(s.Message()))
	}
}

// reasonOf gives the hub's own short reason for an error; "" where the error is
// not the hub's.
func reasonOf(s *status.Status) string {
	for _, detail := range s.Details() {
		if info, is := detail.(*errdetails.ErrorInfo); is {
			return info.GetReason()
		}
	}
	return ""
}

// argumentFaults names what is wrong by the flags and arguments of a command.
func argumentFaults(s *status.Status) string {
	var said []string
	for _, detail := range s.Details() {
		bad, is := detail.(*errdetails.BadRequest)
		if !is {
			continue
		}
		for _, v := range bad.GetFieldViolations() {
			word := strings.ToUpper(v.GetField())
			switch v.GetField() {
			case "by", "why", "since":
				word = "--" + v.GetField()
			}
			said = append(said, word+" "+plainly(v.GetDescription()))
		}
	}
	if len(said) == 0 {
		return plainly(s.Message())
	}
	return strings.Join(said, "; ")
}

// plainly takes from a hub's message what only programs need: which package
// speaks, and the kind of refusal that the rest says in words.
func plainly(message string) string {
	for _, prefix := range []string{
		"rules: ", "hub: ", "grpcapi: ", "record: ", "review: ",
		"not possible now: ", "no such alarm: ", "a name is needed: ", "text can't be used: ",
	} {
		message = strings.TrimPrefix(message, prefix)
	}
	return message
}
