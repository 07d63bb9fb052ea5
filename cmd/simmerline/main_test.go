package main

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
)

// try runs a command line and gives back all that can be seen of it.
func try(args ...string) (code int, out, said string) {
	var o, e bytes.Buffer
	code = run(args, console{In: strings.NewReader(""), Out: &o, Err: &e})
	return code, o.String(), e.String()
}

// Every command at every depth explains itself and every flag it has.
func TestHelpEverywhere(t *testing.T) {
	parser, err := newParser(console{}, func(int) {})
	if err != nil {
		t.Fatal(err)
	}
	checked := 0
	var walk func(node *kong.Node, path []string)
	walk = func(node *kong.Node, path []string) {
		checked++
		code, out, said := try(append(path, "--help")...)
		if code != exitWell || said != "" || !strings.HasPrefix(out, "Usage: simmerline") {
			t.Errorf("%v --help: code %d, out %q, said %q", path, code, out, said)
		}
		if node.Help == "" {
			t.Errorf("%v has no description", path)
		}
		for _, flag := range node.Flags {
			if flag.Help == "" || !strings.Contains(out, "--"+flag.Name) {
				t.Errorf("%v: --%s is not explained", path, flag.Name)
			}
		}
		for _, child := range node.Children {
			walk(child, append(path[:len(path):len(path)], child.Name))
		}
	}
	walk(parser.Model.Node, nil)
	if checked < 6 {
		t.Errorf("only %d commands were found", checked)
	}
}

func TestVersion(t *testing.T) {
	code, out, said := try("--version")
	if code != exitWell || said != "" || !strings.HasPrefix(out, "simmerline ") || !strings.Contains(out, "go1.") {
		t.Errorf("code %d, out %q, said %q", code, out, said)
	}
}

func TestWrongUse(t *testing.T) {
	for _, c := range []struct{ line, says, help string }{
		{"", "expected", "simmerline --help"},
		{"calc", "expected one of", "simmerline calc --help"},
		{"no-such-command", "unexpected argument no-such-command", "simmerline --help"},
		{"--no-such-flag", "unknown flag --no-such-flag", "simmerline --help"},
		{"calc rtd --no-such-flag 3", "unknown flag --no-such-flag", "simmerline calc rtd --help"},
	} {
		code, out, said := try(strings.Fields(c.line)...)
		if code != exitWrongUse || out != "" || !strings.Contains(said, c.says) || !strings.Contains(said, `"`+c.help+`"`) {
			t.Errorf("%q: code %d, out %q, said %q", c.line, code, out, said)
		}
	}
}

func TestExitCode(t *testing.T) {
	plain := errors.New("plain")
	for _, c := range []struct {
		err  error
		want int
	}{
		{nil, exitWell},
		{plain, exitNotWell},
		{wrongUse("both: %w", plain), exitWrongUse},
		{unreachable(plain), exitUnreachable},
		{fmt.Errorf("wrapped: %w", unreachable(plain)), exitUnreachable},
	} {
		if got := exitCode(c.err); got != c.want {
			t.Errorf("%v: code %d, want %d", c.err, got, c.want)
		}
		if c.err != nil && !errors.Is(c.err, plain) {
			t.Errorf("%v has lost its cause", c.err)
		}
	}
}
