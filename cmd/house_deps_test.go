package cmd

import (
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// TestServeLinksNoSimulatedBench asks the Go tool what is linked by the
// packages that every command but the demo uses, all the way down. The import
// table already forbids each single step.
func TestServeLinksNoSimulatedBench(t *testing.T) {
	goTool, err := exec.LookPath("go")
	if err != nil {
		t.Skip("no Go tool here")
	}
	h, err := readHouse(os.DirFS(".."))
	if err != nil {
		t.Fatal(err)
	}
	demo, others := h.commandImports()
	if len(demo) == 0 || len(others) < 8 || slices.Contains(others, h.module+"/sensors/simbench") {
		t.Fatalf("the demo's files import %v, the others %v", demo, others)
	}
	dependencies := func(packages []string) []string {
		t.Helper()
		list := exec.Command(goTool, append([]string{"list", "-deps"}, packages...)...)
		list.Stderr = t.Output()
		out, err := list.Output()
		if err != nil {
			t.Fatalf("go list -deps %v: %v", packages, err)
		}
		return strings.Fields(string(out))
	}
	simulated := func(dependency string) bool {
		return strings.HasPrefix(dependency, h.module+"/sensors/simbench") || dependency == "github.com/creack/pty"
	}
	linked := dependencies(others)
	if i := slices.IndexFunc(linked, simulated); i >= 0 {
		t.Errorf("%s is linked by what serves a real bench", linked[i])
	}
	// The same question with the demo's files must find it, or it finds nothing.
	if !slices.ContainsFunc(dependencies(demo), simulated) {
		t.Error("the demo does not link the simulated bench")
	}
}

// commandImports gives the packages of this module that the files of the
// command import: those of the demo, and all others.
func (h *house) commandImports() (demo, others []string) {
	for _, s := range h.files {
		if !strings.HasPrefix(s.path, "cmd/simmerline/") || s.test {
			continue
		}
		into := &others
		if matchesFile(simbenchUsers, s.path) {
			into = &demo
		}
		for _, spec := range s.tree.Imports {
			imported, err := strconv.Unquote(spec.Path.Value)
			if err == nil && strings.HasPrefix(imported, h.module+"/") && !slices.Contains(*into, imported) {
				*into = append(*into, imported)
			}
		}
	}
	return demo, others
}
