package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"simmerline/hub/bench"
	"simmerline/hub/notify"
)

// longestBenchFile bounds what is read, in bytes; a bench of a hundred channels
// has a few thousand.
const longestBenchFile = 1 << 20

// CheckCommand is `simmerline check`.
type CheckCommand struct {
	Bench string `arg:"" help:"The bench file to check."`
}

// Run prints every fault of the file at once, or what the bench is and does.
func (x *CheckCommand) Run(c console) error {
	b, err := readBench(c.Err, x.Bench)
	if err != nil {
		return err
	}
	fmt.Fprint(c.Out, bench.Explain(b))
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	state, err := notify.Survey(ctx, notify.Config{Player: b.Sound.String()})
	if err != nil {
		return err
	}
	fmt.Fprintln(c.Out, "Tried just now:", state.Detail)
	return nil
}

// readBench reads and parses a bench file. Its faults go to say, one a line;
// the error then only counts them.
func readBench(say io.Writer, path string) (*bench.Bench, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("the bench file can't be read: %w", err)
	}
	defer file.Close()
	text, err := io.ReadAll(io.LimitReader(file, longestBenchFile+1))
	if err != nil {
		return nil, fmt.Errorf("the bench file can't be read: %w", err)
	}
	if len(text) > longestBenchFile {
		return nil, fmt.Errorf("%s is larger than a bench file can be (%d bytes)", path, longestBenchFile)
	}
	b, faults := bench.Parse(path, text)
	if len(faults) == 0 {
		return b, nil
	}
	for _, f := range faults {
		fmt.Fprintln(say, f)
	}
	return nil, errors.New(counted(len(faults), "fault") + " in " + path)
}

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
