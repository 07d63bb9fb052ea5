// Package grpcapi serves a hub over gRPC: the public API of
// proto/simmerline/v1, with health and reflection beside it. It also dials a
// hub, and reads for a client what a hub sends.
//
// The types of the wire stop here. What goes out is made from the hub's own
// types by toWire functions and enum tables; what a client gets is turned back
// by their twins, so that a terminal far away prints with the same words as the
// hub itself.
//
// A stream is one client's: one goroutine takes from its hub.Watcher, works out
// what is different from what it sent last, and sends. It may wait for the
// client as long as it likes; the hub never does. A client that takes nothing
// for sendLimit, or falls too far behind in alarm events, is cut off and comes
// back with its last number.
//
// Errors: status.go has the one table from the reasons of hub and rules to
// canonical codes. What is wrong with an argument is found before the hub is
// asked, and named field by field.
//
// The package imports hub and its bench, rules, sensors, the generated API,
// grpc-go and genproto's error details; never a driver or a serial port.
package grpcapi
