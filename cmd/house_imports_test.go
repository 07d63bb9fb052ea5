package cmd

import (
	"path"
	"strconv"
	"strings"
)

// importRow says what the packages that match of may import of this module. A
// pattern is a folder, or a folder and "/..." for all below it; one with "!" in
// front takes back what others give. The first row that matches counts.
type importRow struct {
	of    string
	may   string
	tests string // what its _test.go files may import besides
}

// importTable: cmd → hub → rules → sensors, and never back. Drivers meet the
// hub in cmd alone; generated types stop at the two servers.
var importTable = []importRow{
	{of: "sensors", may: "", tests: "sensors sensors/..."},
	{of: "sensors/...", may: "sensors sensors/... !sensors/simbench !sensors/simbench/...", tests: "sensors/simbench sensors/simbench/..."},
	{of: "rules", may: "sensors rules/...", tests: "rules rules/... sensors/..."},
	{of: "rules/...", may: "sensors rules rules/...", tests: "sensors/..."},
	{of: "hub/grpcapi", may: hubMay + " proto/...", tests: hubTests},
	{of: "hub/page", may: hubMay + " hub/grpcapi proto/...", tests: hubTests},
	{of: "hub", may: hubMay, tests: hubTests},
	{of: "hub/...", may: hubMay, tests: hubTests},
	{of: "proto/...", may: "proto/..."},
	{of: "cmd", may: ""},
	{of: "cmd/...", may: "sensors sensors/... rules rules/... hub hub/... proto/... cmd/simmerline/... !sensors/simbench !sensors/simbench/...", tests: "sensors/simbench sensors/simbench/..."},
}

const (
	hubMay   = "sensors sensors/clock rules rules/... hub hub/... !hub/grpcapi !hub/page"
	hubTests = "hub hub/... sensors/... proto/..."
)

// The simulated bench is linked by the demo command and by itself only.
var simbenchUsers = []string{"cmd/simmerline/demo*.go", "sensors/simbench/*.go", "sensors/simbench/*/*.go"}

// foreignRow says where a module that is not ours may be imported: only in
// packages that match one of the patterns, and for tests in those of tests too.
type foreignRow struct {
	module string
	only   string
	tests  string
}

var foreignTable = []foreignRow{
	{module: "go.bug.st/serial", only: "sensors/serialport"},
	{module: "google.golang.org/grpc", only: "hub/grpcapi hub/page proto/... cmd/...", tests: "hub hub/..."},
	{module: "google.golang.org/protobuf", only: "hub/grpcapi hub/page proto/... cmd/...", tests: "hub hub/..."},
	{module: "github.com/alecthomas/kong", only: "cmd/..."},
}

// importFaults finds the imports that point the wrong way.
func (h *house) importFaults(s *source) []fault {
	var faults []fault
	for _, spec := range s.tree.Imports {
		imported, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			continue // the parser has taken it, so this can't be
		}
		own, isOwn := strings.CutPrefix(imported, h.module+"/")
		switch {
		case isOwn && forTests(own) && !s.test:
			faults = append(faults, s.faultAt(spec, "%s may not import %s, which is for tests only", s.folder, own))
		case isOwn && !s.mayImport(own):
			faults = append(faults, s.faultAt(spec, "%s may not import %s: imports go cmd → hub → rules → sensors, as the import table says", s.folder, own))
		case !isOwn && !s.mayImportForeign(imported):
			faults = append(faults, s.faultAt(spec, "%s may not import %s: the import table names the packages that may", s.folder, imported))
		}
	}
	return faults
}

// mayImport judges an import of this module.
func (s *source) mayImport(imported string) bool {
	if matches("sensors/simbench sensors/simbench/...", imported) && matchesFile(simbenchUsers, s.path) {
		return true
	}
	for _, row := range importTable {
		if !matches(row.of, s.folder) {
			continue
		}
		return matches(row.may, imported) || s.test && (imported == s.folder || matches(row.tests, imported))
	}
	return false
}

// mayImportForeign judges an import from elsewhere.
func (s *source) mayImportForeign(imported string) bool {
	for _, row := range foreignTable {
		if imported != row.module && !strings.HasPrefix(imported, row.module+"/") {
			continue
		}
		return matches(row.only, s.folder) || s.test && matches(row.tests, s.folder)
	}
	return true
}

// matches says whether a list of patterns takes a folder.
func matches(patterns, folder string) bool {
	taken := false
	for _, pattern := range strings.Fields(patterns) {
		pattern, not := strings.CutPrefix(pattern, "!")
		above, below := strings.CutSuffix(pattern, "/...")
		if folder == pattern || below && strings.HasPrefix(folder, above+"/") {
			taken = !not
		}
	}
	return taken
}

// matchesFile says whether one of the patterns takes a file.
func matchesFile(patterns []string, file string) bool {
	for _, pattern := range patterns {
		if ok, err := path.Match(pattern, file); err == nil && ok {
			return true
		}
	}
	return false
}
