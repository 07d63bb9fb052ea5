package cmd

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"slices"
	"strings"
	"testing"
)

// TestHouse holds the module to its own rules.
func TestHouse(t *testing.T) {
	h, err := readHouse(os.DirFS(".."))
	if err != nil {
		t.Fatal(err)
	}
	// Reading nothing would find no fault either.
	for _, folder := range []string{"cmd", "cmd/simmerline", "hub", "rules", "sensors", "proto/simmerline/v1"} {
		if !slices.Contains(h.folders(), folder) {
			t.Errorf("no Go file was read in %s", folder)
		}
	}
	for _, f := range h.faults() {
		t.Error(f)
	}
}

// house is a module as its source files tell it.
type house struct {
	module  string         // the module's path
	top     []string       // what lies in its root
	ignored []string       // patterns of what may lie there besides
	files   []*source      // every Go file
	lines   map[string]int // length of every file that people write
}

// source is one Go file.
type source struct {
	path      string // from the module's root, with slashes
	folder    string
	fset      *token.FileSet
	tree      *ast.File
	test      bool // a _test.go file, or of a package that only tests use
	generated bool
}

// fault is one breach of a rule.
type fault struct {
	path string
	line int
	what string
}

// String gives the fault as file:line: what.
func (f fault) String() string { return fmt.Sprintf("%s:%d: %s", f.path, f.line, f.what) }

// faultAt makes a fault at a node of the file.
func (s *source) faultAt(node ast.Node, format string, args ...any) fault {
	return fault{s.path, s.fset.Position(node.Pos()).Line, fmt.Sprintf(format, args...)}
}

// faults applies every rule.
func (h *house) faults() []fault {
	var all []fault
	all = append(all, h.topLevelFaults()...)
	all = append(all, h.lengthFaults()...)
	all = append(all, h.packageDocFaults()...)
	for _, s := range h.files {
		all = append(all, h.importFaults(s)...)
		if s.generated {
			continue
		}
		all = append(all, callFaults(s)...)
		all = append(all, commentFaults(s)...)
	}
	return all
}

// folders lists the folders that hold Go files.
func (h *house) folders() []string {
	var folders []string
	for _, s := range h.files {
		if !slices.Contains(folders, s.folder) {
			folders = append(folders, s.folder)
		}
	}
	return folders
}

// readHouse parses every Go file of the module at root, whatever it is built
// for. Folders that the go tool skips are skipped: testdata, and names with a
// dot in front.
func readHouse(root fs.FS) (*house, error) {
	h := &house{lines: map[string]int{}}
	mod, err := fs.ReadFile(root, "go.mod")
	if err != nil {
		return nil, fmt.Errorf("house: %w", err)
	}
	if _, err := fmt.Sscanf(string(mod), "module %s", &h.module); err != nil {
		return nil, fmt.Errorf("house: go.mod names no module on its first line: %w", err)
	}
	entries, err := fs.ReadDir(root, ".")
	if err != nil {
		return nil, fmt.Errorf("house: %w", err)
	}
	for _, entry := range entries {
		h.top = append(h.top, entry.Name())
	}
	h.ignored = readIgnored(root)
	err = fs.WalkDir(root, ".", func(name string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		base := entry.Name()
		if entry.IsDir() {
			if name != "." && (base[0] == '.' || base[0] == '_' || base == "testdata" || base == "node_modules") {
				return fs.SkipDir
			}
			return nil
		}
		return h.read(root, name)
	})
	if err != nil {
		return nil, fmt.Errorf("house: %w", err)
	}
	return h, nil
}

// read takes in one file, if people write such files.
func (h *house) read(root fs.FS, name string) error {
	extension := path.Ext(name)
	if extension != ".go" && extension != ".proto" {
		return nil
	}
	text, err := fs.ReadFile(root, name)
	if err != nil {
		return err
	}
	generated := strings.HasSuffix(name, ".pb.go")
	if !generated {
		h.lines[name] = strings.Count(string(text), "\n")
	}
	if extension != ".go" {
		return nil
	}
	fset := token.NewFileSet()
	tree, err := parser.ParseFile(fset, name, text, parser.ParseComments|parser.SkipObjectResolution)
	if err != nil {
		return err
	}
	h.files = append(h.files, &source{
		path:      name,
		folder:    path.Dir(name),
		fset:      fset,
		tree:      tree,
		test:      strings.HasSuffix(name, "_test.go") || forTests(path.Dir(name)),
		generated: generated,
	})
	return nil
}

// forTests says whether a package is for tests only: its name ends so.
func forTests(folder string) bool { return strings.HasSuffix(folder, "test") }
