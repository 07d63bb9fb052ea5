// Package stream keeps hold of a hub's stream for the commands that show it: it
// dials, gives every message with the state that it leads to, and where the
// stream breaks comes back with the last number it has, so that no alarm event
// is missed.
//
// It judges nothing: a dead connection gives no error, so whoever listens keeps
// a deadline of their own (see screen.Ear).
//
// The package imports hub, hub/grpcapi, the generated API and grpc-go.
package stream
