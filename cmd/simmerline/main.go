package main

import (
	"errors"
	"fmt"
	"os"
	"reflect"
	"runtime"
	"runtime/debug"

	"github.com/alecthomas/kong"
)

const about = `A bench-sensor hub for a small metal-finishing studio: it reads bath thermometers and a fume
sensor, raises and sounds alarms, and keeps a record. An aid, not a certified gas detector or safety interlock.`

func main() {
	os.Exit(run(os.Args[1:], console{In: os.Stdin, Out: os.Stdout, Err: os.Stderr}))
}

// run parses the command line, runs the one command that it names, and returns
// the exit code.
func run(args []string, c console) int {
	// The flags for help and version leave the program through this; the parser
	// goes on after it, and what it says then does not count.
	left := false
	parser, err := newParser(c, func(int) { left = true })
	if err != nil {
		fmt.Fprintln(c.Err, "simmerline:", err)
		return exitNotWell
	}
	parsed, err := parser.Parse(args)
	if left {
		return exitWell
	}
	if err != nil {
		var wrong *kong.ParseError
		if errors.As(err, &wrong) {
			parsed = wrong.Context
		}
		return report(c, parsed, &exitError{code: exitWrongUse, err: err})
	}
	return report(c, parsed, parsed.Run())
}

// newParser makes the parser of the whole command line. leave is called by the
// flags that only show something.
func newParser(c console, leave func(int)) (*kong.Kong, error) {
	return kong.New(&commands{},
		kong.Name("simmerline"),
		kong.Description(about),
		kong.Vars{"version": version(), "scenarios": scenarioNames()},
		kong.Writers(c.Out, c.Err),
		kong.Exit(leave),
		kong.KindMapper(reflect.Float64, numberMapper{}),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
		kong.Bind(c),
	)
}

// report says what went wrong and gives the exit code for it. Wrong use is told
// where to look.
func report(c console, parsed *kong.Context, err error) int {
	if err == nil {
		return exitWell
	}
	fmt.Fprintln(c.Err, "simmerline:", err)
	code := exitCode(err)
	if code == exitWrongUse {
		command := "simmerline"
		if parsed != nil && parsed.Selected() != nil {
			command = parsed.Selected().FullPath()
		}
		fmt.Fprintf(c.Err, "Run \"%s --help\" for how it is used.\n", command)
	}
	return code
}

// version says which build this is, as the Go tool stamped it.
func version() string {
	text := "simmerline"
	info, ok := debug.ReadBuildInfo()
	if ok && info.Main.Version != "" {
		text += " " + info.Main.Version
	}
	return fmt.Sprintf("%s %s %s/%s", text, runtime.Version(), runtime.GOOS, runtime.GOARCH)
}
