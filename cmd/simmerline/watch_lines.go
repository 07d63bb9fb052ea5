package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"google.golang.org/protobuf/encoding/protojson"

	"simmerline/cmd/simmerline/screen"
	"simmerline/cmd/simmerline/stream"
	"simmerline/hub"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/sensors/clock"
)

// lookEvery is how often a listener looks whether the hub has fallen silent.
const lookEvery = 250 * time.Millisecond

// linesOptions are how a hub is told line by line.
type linesOptions struct {
	every time.Duration // between two summaries; 0 means 10 s
	units screen.Units
	zone  *time.Location // the machine's own where nil
}

// lineTeller prints what a hub says as lines.
type lineTeller struct {
	o       linesOptions
	out     io.Writer
	latest  *hub.Snapshot
	summary time.Duration // when the last summary was printed
}

// runLines prints a line for each event of the hub at an address, and a summary
// now and then, until ctx ends.
func runLines(ctx context.Context, out io.Writer, address string, o linesOptions) error {
	if o.every == 0 {
		o.every = 10 * time.Second
	}
	t := &lineTeller{o: o, out: out}
	return listenAlone(ctx, address, t.heard, t.quiet)
}

// heard prints a message that is worth a line.
func (t *lineTeller) heard(now time.Duration, m stream.Message, silence time.Duration) error {
	first := t.latest == nil
	t.latest = m.State
	switch {
	case m.State == nil:
		return nil
	case silence > 0:
		t.print("HEARD", "The hub is heard again, after "+lasting(silence)+" of silence.")
	}
	if m.Missed() {
		t.print("HUB", "Some of what happened before could not be found again.")
	}
	if m.Stopping() {
		t.print("HUB", m.Wire.GetNotice().GetSentence())
	}
	if m.Announcement != nil {
		if err := t.line(screen.Line(*m.Announcement, t.o.units, m.State, t.o.zone)); err != nil {
			return err
		}
	}
	if first || now-t.summary >= t.o.every {
		t.summary = now
		return t.line(screen.Summary(m.State, t.o.units, t.o.zone))
	}
	return nil
}

// quiet tells once that the hub has fallen silent.
func (t *lineTeller) quiet(lasted time.Duration, fell bool) {
	if fell {
		t.print("SILENT", "HUB SILENT: nothing heard for "+lasting(lasted)+". Nothing here would warn of heat or gas until it is heard again.")
	}
}

func (t *lineTeller) print(tag, text string) {
	_ = t.line(screen.Tell(t.latest, tag, text, t.o.zone)) // the next line shows a lasting failure
}

func (t *lineTeller) line(text string) error {
	if _, err := fmt.Fprintln(t.out, text); err != nil {
		return fmt.Errorf("watch: print a line: %w", err)
	}
	return nil
}

// runJSON prints every message of the hub at an address as it came, until ctx
// ends. What is not the hub's own goes to the console's error stream.
func runJSON(ctx context.Context, c console, address string) error {
	say := func(text string) { fmt.Fprintln(c.Err, "simmerline:", text) }
	return listenAlone(ctx, address,
		func(_ time.Duration, m stream.Message, silence time.Duration) error {
			if silence > 0 {
				say("the hub is heard again, after " + lasting(silence) + " of silence")
			}
			line, err := jsonLine(m.Wire)
			if err != nil {
				return err
			}
			if _, err := c.Out.Write(line); err != nil {
				return fmt.Errorf("watch: print a message: %w", err)
			}
			return nil
		},
		func(quiet time.Duration, fell bool) {
			if fell {
				say("HUB SILENT: nothing heard for " + lasting(quiet) + "; waiting for it")
			}
		})
}

// jsonLine is a message as protojson has it, on one line. The blanks that
// protojson puts in at random are taken out, so that equal messages give equal
// lines.
func jsonLine(m *simmerlinepb.WatchResponse) ([]byte, error) {
	text, err := protojson.Marshal(m)
	if err != nil {
		return nil, fmt.Errorf("watch: a message can't be written as JSON: %w", err)
	}
	var line bytes.Buffer
	if err := json.Compact(&line, text); err != nil {
		return nil, fmt.Errorf("watch: a message can't be written as JSON: %w", err)
	}
	line.WriteByte('\n')
	return line.Bytes(), nil
}

// listenAlone follows a hub with nobody to call: heard gets every message, with
// the length of a silence that it ended; quiet gets how long nothing has been
// heard, and whether the hub has just come to count as silent.
func listenAlone(ctx context.Context, address string, heard func(time.Duration, stream.Message, time.Duration) error, quiet func(time.Duration, bool)) error {
	connection, err := dialHub(address)
	if err != nil {
		return err
	}
	defer connection.Close()
	s := listenTo(ctx, connection, address, false)
	defer s.close()
	clk := clock.NewSystem()
	ear, fallen := screen.NewEar(clk.SinceBoot()), false
	look := time.NewTicker(lookEvery)
	defer look.Stop()
	for {
		select {
		case m, more := <-s.messages:
			if !more {
				return s.err
			}
			now := clk.SinceBoot()
			silence := ear.Hear(now, wallOf(m))
			fallen = false
			if err := heard(now, m, silence); err != nil {
				return err
			}
		case <-look.C:
			lasted, silent := ear.Silent(clk.SinceBoot())
			quiet(lasted, silent && !fallen)
			fallen = silent
		}
	}
}

// wallOf is what the hub's clock said with a message.
func wallOf(m stream.Message) time.Time {
	if m.State == nil {
		return time.Time{}
	}
	return m.State.Wall
}
