package main

import (
	"context"
	"fmt"
	"os"

	"golang.org/x/term"

	"simmerline/cmd/simmerline/screen"
	"simmerline/hub"
)

// tellHub prints what a hub of this process announces, a line each, until ctx
// ends: what its own terminal shows.
func tellHub(ctx context.Context, c console, h *hub.Hub) {
	w, err := h.Watch(ctx, hub.WatchOptions{})
	if err != nil {
		return // it is being stopped
	}
	defer w.Close()
	for {
		update, err := w.Next(ctx)
		if err != nil {
			return
		}
		for _, a := range update.Announcements {
			fmt.Fprintln(c.Out, screen.Line(a, screen.UnitsOfBench, h.Snapshot(), nil))
		}
	}
}

// terminal says whether a file is a terminal that somebody looks at.
func terminal(f *os.File) bool { return term.IsTerminal(int(f.Fd())) }
