package cmd

import (
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"
)

// A small module that keeps every rule. Each case of TestHouseFindsFaults adds
// one file to it.
var wellKept = map[string]string{
	"go.mod":                     "module house\n",
	".gitignore":                 "# built\n/house-binary\n*.prof\n",
	"house-binary":               "",
	"cpu.prof":                   "",
	"README.md":                  "",
	"testdata/broken.go":         "no Go at all",
	"cmd/simmerline/main.go":     "// Command simmerline.\npackage main\n\nimport \"os\"\n\nfunc main() { os.Exit(0) }\n",
	"cmd/simmerline/demo.go":     "package main\n\nimport _ \"house/sensors/simbench\"\n",
	"cmd/simmerline/run_test.go": "package main\n\nimport _ \"house/sensors/simbench\"\n\nfunc later() { go func() {}() }\n",
	"hub/doc.go":                 "// Package hub runs.\npackage hub\n\nimport (\n\t_ \"house/rules\"\n\t_ \"house/sensors/clock\"\n)\n",
	"hub/grpcapi/doc.go":         "// Package grpcapi serves.\npackage grpcapi\n\nimport (\n\t_ \"google.golang.org/grpc\"\n\t_ \"house/hub\"\n)\n",
	"rules/doc.go":               "// Package rules judges.\npackage rules\n\nimport _ \"house/sensors\"\n",
	"rules/rules_test.go":        "package rules\n\nimport \"time\"\n\nfunc later() { go time.Sleep(0) }\n",
	"sensors/doc.go":             "// Package sensors reads.\npackage sensors\n",
	"sensors/clock/doc.go":       "// Package clock counts.\npackage clock\n",
	"sensors/lines/doc.go":       "// Package lines reads lines.\npackage lines\n",
	"sensors/simbench/doc.go":    "// Package simbench plays a bench.\npackage simbench\n\nimport _ \"house/sensors/clock\"\n",
	"sensors/sensorstest/doc.go": "// Package sensorstest plays devices.\npackage sensorstest\n\nimport \"time\"\n\nvar never = time.After\n",
	"sensors/serialport/doc.go":  "// Package serialport opens ports.\npackage serialport\n\nimport _ \"go.bug.st/serial\"\n",
	"proto/v1/api.pb.go":         "// Package v1 is made.\npackage v1\n\nimport \"os\"\n\nfunc init() { os.Exit(1) }\n\nfunc Bare() {}\n" + strings.Repeat("\n", 500),
}

func TestHouseFindsNothingInOrder(t *testing.T) {
	if faults := faultsWith(t, nil); len(faults) != 0 {
		t.Errorf("a module in order is faulted: %q", faults)
	}
}

// TestHouseFindsFaults feeds the house rules one bad file at a time: each gives
// exactly one fault, at its line.
func TestHouseFindsFaults(t *testing.T) {
	for _, c := range []struct{ name, path, text, want string }{
		{"sensors imports below itself", "sensors/a.go", "package sensors\n\nimport _ \"house/sensors/clock\"\n", "sensors/a.go:3: sensors may not import sensors/clock"},
		{"a driver imports rules", "sensors/lines/a.go", "package lines\n\nimport _ \"house/rules\"\n", "sensors/lines/a.go:3: sensors/lines may not import rules"},
		{"rules import a driver", "rules/a.go", "package rules\n\nimport _ \"house/sensors/lines\"\n", "rules/a.go:3: rules may not import sensors/lines"},
		{"rules import the hub", "rules/a.go", "package rules\n\nimport _ \"house/hub\"\n", "rules may not import hub"},
		{"the hub imports a driver", "hub/a.go", "package hub\n\nimport _ \"house/sensors/lines\"\n", "hub may not import sensors/lines"},
		{"the hub imports its server", "hub/a.go", "package hub\n\nimport _ \"house/hub/grpcapi\"\n", "hub may not import hub/grpcapi"},
		{"the hub imports generated types", "hub/a.go", "package hub\n\nimport _ \"house/proto/v1\"\n", "hub may not import proto/v1"},
		{"the hub imports grpc", "hub/a.go", "package hub\n\nimport _ \"google.golang.org/grpc/codes\"\n", "hub may not import google.golang.org/grpc/codes"},
		{"a second package imports serial", "sensors/lines/a.go", "package lines\n\nimport _ \"go.bug.st/serial/enumerator\"\n", "may not import go.bug.st/serial/enumerator"},
		{"a test imports serial", "sensors/lines/a_test.go", "package lines\n\nimport _ \"go.bug.st/serial\"\n", "may not import go.bug.st/serial"},
		{"somebody imports cmd", "hub/a.go", "package hub\n\nimport _ \"house/cmd/simmerline\"\n", "hub may not import cmd/simmerline"},
		{"a test imports cmd", "hub/a_test.go", "package hub\n\nimport _ \"house/cmd/simmerline\"\n", "hub may not import cmd/simmerline"},
		{"serve links the bench", "cmd/simmerline/serve.go", "package main\n\nimport _ \"house/sensors/simbench\"\n", "cmd/simmerline may not import sensors/simbench"},
		{"a driver links the bench", "sensors/lines/a.go", "package lines\n\nimport _ \"house/sensors/simbench\"\n", "sensors/lines may not import sensors/simbench"},
		{"a test package is used", "sensors/lines/a.go", "package lines\n\nimport _ \"house/sensors/sensorstest\"\n", "for tests only"},

		{"rules read the clock", "rules/a.go", "package rules\n\nimport \"time\"\n\nvar now = time.Now()\n", "rules/a.go:5: time.Now: time comes in"},
		{"by another name", "rules/a.go", "package rules\n\nimport tick \"time\"\n\nvar since = tick.Since\n", "rules/a.go:5: time.Since"},
		{"a decoder starts a goroutine", "sensors/lines/a.go", "package lines\n\nfunc f() {\n\tgo f()\n}\n", "sensors/lines/a.go:4: go statement"},
		{"a decoder opens a file", "sensors/lines/a.go", "package lines\n\nimport \"os\"\n\nvar open = os.Open\n", "os.Open: this package touches nothing"},
		{"a driver logs", "sensors/clock/a.go", "package clock\n\nimport \"log/slog\"\n\nvar say = slog.Info\n", "log/slog.Info: this package never logs"},
		{"a library prints", "rules/a.go", "package rules\n\nimport \"fmt\"\n\nvar say = fmt.Println\n", "fmt.Println: this package never logs"},
		{"the hub leaves", "hub/a.go", "package hub\n\nimport \"os\"\n\nfunc f() { os.Exit(1) }\n", "hub/a.go:5: os.Exit: return an error"},
		{"a command leaves", "cmd/simmerline/a.go", "package main\n\nimport \"os\"\n\nfunc f() { os.Exit(1) }\n", "cmd/simmerline/a.go:5: os.Exit"},
		{"a command dies", "cmd/simmerline/a.go", "package main\n\nimport \"log\"\n\nfunc f() { log.Fatal() }\n", "log.Fatal: return an error"},
		{"a timer that can't be stopped", "hub/a.go", "package hub\n\nimport \"time\"\n\nvar later = time.After\n", "time.After: its timer can't be stopped"},
		{"an init function", "hub/a.go", "package hub\n\nfunc init() {}\n", "hub/a.go:3: func init"},
		{"an init function in a test", "hub/a_test.go", "package hub\n\nfunc init() {}\n", "hub/a_test.go:3: func init"},
		{"a dot import", "hub/a.go", "package hub\n\nimport . \"time\"\n", "hub/a.go:3: import with a dot"},

		{"a long file", "hub/a.go", "package hub\n" + strings.Repeat("\n", 400), "hub/a.go:401: is longer than 400 lines"},
		{"a long test", "hub/a_test.go", "package hub\n" + strings.Repeat("\n", 400), "is longer than 400 lines"},
		{"a long proto file", "proto/v1/api.proto", strings.Repeat("\n", 401), "is longer than 400 lines"},
		{"a package that says nothing", "hub/dumb/dumb.go", "package dumb\n", "hub/dumb/doc.go:1: package dumb has no comment"},
		{"a comment of another package", "hub/dumb/dumb.go", "// Package other says it.\npackage dumb\n", "package dumb has no comment"},
		{"a stray file on top", "notes.txt", "", "notes.txt:1: does not belong in the top folder"},
		{"a stray folder on top", "pkg/notes.txt", "", "pkg:1: does not belong in the top folder"},

		{"a function nobody explains", "hub/a.go", "package hub\n\nfunc Bare() {}\n", "hub/a.go:3: Bare is exported and has no comment"},
		{"a method nobody explains", "hub/a.go", "package hub\n\n// T is.\ntype T[X any] struct{}\n\nfunc (t *T[X]) Bare() {}\n", "hub/a.go:6: Bare is exported"},
		{"a type nobody explains", "hub/a.go", "package hub\n\ntype Bare int\n", "Bare is exported"},
		{"a type in an explained group", "hub/a.go", "package hub\n\n// These are types.\ntype (\n\tBare int\n)\n", "hub/a.go:5: Bare is exported"},
		{"a constant nobody explains", "hub/a.go", "package hub\n\nconst Bare = 1\n", "Bare is exported"},
	} {
		t.Run(c.name, func(t *testing.T) {
			faults := faultsWith(t, map[string]string{c.path: c.text})
			if len(faults) != 1 || !strings.Contains(faults[0], c.want) {
				t.Errorf("faults %q, want one with %q", faults, c.want)
			}
		})
	}
}

// What only looks like a fault is none.
func TestHouseLetsBe(t *testing.T) {
	for _, text := range []string{
		"package hub\n\ntype hidden int\n\nfunc (hidden) Shown() {}\n\nfunc (h hidden) init() {}\n",
		"package hub\n\n// The numbers.\nconst (\n\tOne = 1\n\tTwo = 2\n)\n",
		"package hub\n\nconst (\n\tOne = 1 // one\n)\n",
		"package hub\n\nimport \"time\"\n\nfunc f() { go time.NewTimer(1).Stop() }\n",
		"package hub\n\ntype clock struct{}\n\nfunc (clock) After() {}\n\nvar time clock\n\nfunc f() { time.After() }\n",
	} {
		if faults := faultsWith(t, map[string]string{"hub/a.go": text}); len(faults) != 0 {
			t.Errorf("%s: faulted: %q", text, faults)
		}
	}
}

// A file that is no Go is an error, not a file passed over.
func TestHouseReadsEveryFile(t *testing.T) {
	broken := map[string]string{"hub/a.go": "package hub\n\nfunc {\n"}
	if _, err := readHouse(wellKeptWith(broken)); err == nil || !strings.Contains(err.Error(), "hub/a.go:3") {
		t.Errorf("a broken file: %v", err)
	}
	if _, err := readHouse(fstest.MapFS{}); err == nil {
		t.Error("a folder without go.mod was taken for a module")
	}
}

func faultsWith(t *testing.T, extra map[string]string) []string {
	t.Helper()
	h, err := readHouse(wellKeptWith(extra))
	if err != nil {
		t.Fatal(err)
	}
	var texts []string
	for _, f := range h.faults() {
		texts = append(texts, f.String())
	}
	return texts
}

// wellKeptWith is the module in order with some files more.
func wellKeptWith(extra map[string]string) fs.FS {
	files := fstest.MapFS{}
	for name, text := range wellKept {
		files[name] = &fstest.MapFile{Data: []byte(text)}
	}
	for name, text := range extra {
		files[name] = &fstest.MapFile{Data: []byte(text)}
	}
	return files
}
