package cmd

import (
	"go/ast"
	"path"
	"strconv"
	"strings"
)

// pure lists the packages that are functions of their arguments: no goroutine,
// no clock, no file, no log.
const pure = "rules rules/... sensors sensors/lines sensors/modbus sensors/convert"

// quiet lists the packages that never log: they return errors.
const quiet = "rules rules/... sensors sensors/..."

// ban is a name of another package that must not be used.
type ban struct {
	names string // package.Name, or package.* for all of it
	in    string // the folders it counts in; empty for everywhere
	but   string // a file that may
	why   string
}

var bans = []ban{
	{names: "time.Now time.Since time.Until time.Sleep time.After time.AfterFunc time.Tick time.NewTimer time.NewTicker", in: pure,
		why: "time comes in as an argument"},
	{names: "os.* io/ioutil.* os/exec.* net.* net/http.* syscall.*", in: pure, why: "this package touches nothing outside"},
	{names: "log.* log/slog.* fmt.Print fmt.Printf fmt.Println", in: quiet, why: "this package never logs: return an error"},
	{names: "os.Exit", but: "cmd/simmerline/main.go", why: "return an error; only main.go ends the program"},
	{names: "log.Fatal log.Fatalf log.Fatalln log.Panic log.Panicf log.Panicln", why: "return an error; only main.go ends the program"},
	{names: "time.After time.Tick", why: "its timer can't be stopped: use a timer of the injected clock"},
}

// callFaults finds what a file uses and must not. Tests may use it all, as they
// have clocks, files and child processes of their own, but for init functions.
func callFaults(s *source) []fault {
	var faults []fault
	imports := importNames(s.tree)
	ast.Inspect(s.tree, func(node ast.Node) bool {
		switch n := node.(type) {
		case *ast.FuncDecl:
			if n.Recv == nil && n.Name.Name == "init" {
				faults = append(faults, s.faultAt(n, "func init: wire things up by hand, in main"))
			}
		case *ast.GoStmt:
			if !s.test && matches(pure, s.folder) {
				faults = append(faults, s.faultAt(n, "go statement: %s starts no goroutine", s.folder))
			}
		case *ast.SelectorExpr:
			from, ok := n.X.(*ast.Ident)
			if !ok || imports[from.Name] == "" || s.test {
				return true
			}
			if why := banned(s, imports[from.Name], n.Sel.Name); why != "" {
				faults = append(faults, s.faultAt(n, "%s.%s: %s", imports[from.Name], n.Sel.Name, why))
			}
		}
		return true
	})
	for _, spec := range s.tree.Imports {
		if spec.Name != nil && spec.Name.Name == "." && !s.test {
			faults = append(faults, s.faultAt(spec, "import with a dot hides where names come from"))
		}
	}
	return faults
}

// banned gives the reason why a name must not be used in the file, or nothing.
func banned(s *source, imported, name string) string {
	for _, b := range bans {
		if b.in != "" && !matches(b.in, s.folder) || b.but == s.path {
			continue
		}
		for _, candidate := range strings.Fields(b.names) {
			if candidate == imported+"."+name || candidate == imported+".*" {
				return b.why
			}
		}
	}
	return ""
}

// importNames gives the path behind each package name of a file. A name is taken
// from the path's last part where the import does not give one, which is right
// for the standard library that the bans are about.
func importNames(tree *ast.File) map[string]string {
	names := map[string]string{}
	for _, spec := range tree.Imports {
		imported, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			continue // the parser has taken it, so this can't be
		}
		name := path.Base(imported)
		if spec.Name != nil {
			name = spec.Name.Name
		}
		names[name] = imported
	}
	return names
}
