//go:build unix

package main

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// patience is how long a test waits for what must come, on a busy machine. The
// tests wait on events, so it is spent only where one fails.
const patience = 40 * time.Second

// asProgram in the environment makes the test binary be the program itself, so
// that a test can start it, ask it over the command line and kill it.
const asProgram = "SIMMERLINE_TEST_AS_PROGRAM"

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		os.Exit(run(os.Args[1:], console{In: os.Stdin, Out: os.Stdout, Err: os.Stderr}))
	}
	os.Exit(m.Run())
}

// child is a command that runs as a process of its own.
type child struct {
	t       testing.TB
	command *exec.Cmd
	out     childOutput
	said    childOutput
	ended   chan struct{}
	err     error // of the end; to be read after ended
}

// startChild starts the program with additional environment. It is killed with the
// test where it has not ended by then.
func startChild(t testing.TB, environment []string, args ...string) *child {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	p := &child{t: t, command: exec.Command(self, args...), ended: make(chan struct{})}
	p.command.Env = append(append(os.Environ(), asProgram+"=1"), environment...)
	p.command.Stdout, p.command.Stderr = &p.out, &p.said
	if err := p.command.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		defer close(p.ended)
		p.err = p.command.Wait()
	}()
	t.Cleanup(func() {
		p.signal(syscall.SIGKILL)
		if t.Failed() {
			t.Logf("%s printed:\n%s%s", strings.Join(args, " "), p.out.text(), p.said.text())
		}
	})
	return p
}

// signal sends a signal and waits for the end; it does nothing after the end.
func (p *child) signal(s os.Signal) {
	if err := p.command.Process.Signal(s); err != nil && !errors.Is(err, os.ErrProcessDone) {
		p.t.Errorf("signal %v: %v", s, err)
	}
	p.wait()
}

// wait waits for the end and gives the exit code, -1 after a signal.
func (p *child) wait() int {
	p.t.Helper()
	limit := time.NewTimer(patience)
	defer limit.Stop()
	select {
	case <-p.ended:
	case <-limit.C:
		p.t.Fatalf("%v did not end:\n%s%s", p.command.Args, p.out.text(), p.said.text())
	}
	return p.command.ProcessState.ExitCode()
}

// printed waits until the program's output matches, and gives the first group.
func (p *child) printed(pattern string) string {
	p.t.Helper()
	wanted := regexp.MustCompile(pattern)
	limit := time.NewTimer(patience)
	defer limit.Stop()
	for {
		more := p.out.more()
		if found := wanted.FindStringSubmatch(p.out.text()); found != nil {
			return found[len(found)-1]
		}
		select {
		case <-more:
		case <-p.ended:
			p.t.Fatalf("%v ended (%v) and has not printed %q:\n%s%s", p.command.Args, p.err, pattern, p.out.text(), p.said.text())
		case <-limit.C:
			p.t.Fatalf("%v has not printed %q:\n%s%s", p.command.Args, pattern, p.out.text(), p.said.text())
		}
	}
}

// childAnswer runs the program to its end, which must be well, and gives what it
// printed.
func childAnswer(t testing.TB, args ...string) string {
	t.Helper()
	p := startChild(t, nil, args...)
	if code := p.wait(); code != exitWell {
		t.Fatalf("%v: exit code %d\n%s%s", args, code, p.out.text(), p.said.text())
	}
	return p.out.text()
}

// childOutput keeps what a program prints.
type childOutput struct {
	mu     sync.Mutex // guards the fields below
	bytes  bytes.Buffer
	waiter chan struct{} // closed with the next byte; nil where nobody waits
}

func (o *childOutput) Write(p []byte) (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.waiter != nil {
		close(o.waiter)
		o.waiter = nil
	}
	return o.bytes.Write(p)
}

func (o *childOutput) text() string {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.bytes.String()
}

// more is closed once something more is printed than when it was called.
func (o *childOutput) more() <-chan struct{} {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.waiter == nil {
		o.waiter = make(chan struct{})
	}
	return o.waiter
}

// takeLines gives the whole lines printed since it was last called.
func (o *childOutput) takeLines() []string {
	o.mu.Lock()
	defer o.mu.Unlock()
	end := bytes.LastIndexByte(o.bytes.Bytes(), '\n')
	if end < 0 {
		return nil
	}
	return strings.Split(strings.TrimSuffix(string(o.bytes.Next(end+1)), "\n"), "\n")
}

// fakePlayer puts a stand-in for a sound player before all others: it notes in a
// file what it is given to play, and then plays as long as it is let, but for
// the moment of near-silence by which players are tried.
func fakePlayer(t testing.TB) (environment []string, played func() string) {
	t.Helper()
	folder := t.TempDir()
	notes := filepath.Join(folder, "played")
	script := "#!/bin/sh\nfor file; do :; done\necho \"${file##*/}\" >>'" + notes + "'\n" +
		"case \"$file\" in *probe.wav) exit 0;; esac\nexec sleep 60\n"
	if err := os.WriteFile(filepath.Join(folder, "aplay"), []byte(script), 0o700); err != nil {
		t.Fatal(err)
	}
	environment = []string{"PATH=" + folder + string(filepath.ListSeparator) + os.Getenv("PATH")}
	return environment, func() string {
		text, err := os.ReadFile(notes)
		if err != nil && !errors.Is(err, os.ErrNotExist) {
			t.Error(err)
		}
		return string(text)
	}
}

// writeBenchFile writes a bench file.
func writeBenchFile(t testing.TB, text string) (path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "bench.yaml")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// serveChild starts a hub with its record in a folder and waits until it serves.
func serveChild(t testing.TB, environment []string, bench, data string) (hub *child, address string) {
	t.Helper()
	hub = startChild(t, environment, "serve", "--bench", bench, "--data", data, "--listen", "127.0.0.1:0", "--sound", "aplay")
	return hub, hub.printed(`watch --hub (\S+)\n`)
}
