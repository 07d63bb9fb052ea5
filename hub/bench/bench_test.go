package bench

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"simmerline/rules"
)

var update = flag.Bool("update", false, "rewrite the expected texts beside the sample benches; commit only a difference you can explain")

const benches = "../../testdata/benches"

func read(t testing.TB, path string) []byte {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// expect holds got against the text in a file, or rewrites the file.
func expect(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if want := string(read(t, path)); got != want {
		t.Errorf("%s holds\n%s\nbut this came:\n%s", path, want, got)
	}
}

func samples(t testing.TB, folder string) []string {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join(benches, folder, "*.yaml"))
	if err != nil || len(paths) == 0 {
		t.Fatalf("no sample benches in %s: %v", folder, err)
	}
	return paths
}

func TestGoodBenchesAreAcceptedAndExplained(t *testing.T) {
	for _, path := range samples(t, "good") {
		t.Run(filepath.Base(path), func(t *testing.T) {
			b, faults := Parse(filepath.Base(path), read(t, path))
			for _, f := range faults {
				t.Error(f)
			}
			if b == nil {
				t.Fatal("refused")
			}
			if _, err := rules.New(b.Setup, 0); err != nil {
				t.Errorf("the engine refuses it: %v", err)
			}
			expect(t, strings.TrimSuffix(path, ".yaml")+".txt", Explain(b))
		})
	}
}

func TestBadBenchesGetEveryFaultInOneGo(t *testing.T) {
	for _, path := range samples(t, "bad") {
		t.Run(filepath.Base(path), func(t *testing.T) {
			b, faults := Parse(filepath.Base(path), read(t, path))
			if b != nil || len(faults) == 0 {
				t.Fatal("accepted")
			}
			var got strings.Builder
			for _, f := range faults {
				got.WriteString(f.String() + "\n")
			}
			expect(t, strings.TrimSuffix(path, ".yaml")+".txt", got.String())
		})
	}
}

// The demo's own bench is a bench like any other.
func TestSimulatedBenchIsAccepted(t *testing.T) {
	b, faults := Parse("pennywhistle.yaml", read(t, "../../sensors/simbench/pennywhistle.yaml"))
	for _, f := range faults {
		t.Error(f)
	}
	if b == nil {
		t.Fatal("refused")
	}
	for _, c := range b.Cautions {
		t.Errorf("the demo should need no caution: %s", c)
	}
	if _, err := rules.New(b.Setup, 0); err != nil {
		t.Errorf("the engine refuses it: %v", err)
	}
}
