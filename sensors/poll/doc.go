// Package poll keeps one port going: it waits for the device, opens it, has its
// driver exchange with it in turn, judges what came, and hands it on. When the
// device goes it says so and waits for it again, for as long as it takes.
//
// Run is one port's whole life. Its caller runs it in a goroutine and waits for
// it to end:
//
//	resolve and open → exchange → intake → Deliver
//	      ↑________________________lost________|
//
// What can hang in an operating system (an open, an exchange, a close) runs in
// a goroutine beside, is watched, and is left behind when it does not come back.
// The watch is kept in real time, since what it waits for is; everything else
// goes by the injected clock.
//
// A loss is told in two batches, in this order: a bad reading for each channel
// that was being heard, so that no older number stands, and then the state of
// the port. Deliver is called from one goroutine at a time.
//
// The package imports sensors and sensors/clock. It knows no serial library and
// no protocol: both are handed to it.
package poll
