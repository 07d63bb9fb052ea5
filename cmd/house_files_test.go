package cmd

import (
	"go/ast"
	"io/fs"
	"path"
	"slices"
	"strings"
)

// mostLines is how long a file may be; a hundred to three hundred are usual.
const mostLines = 400

// topLevel is all that may lie in the module's root, beside names with a dot in
// front and what .gitignore names.
var topLevel = strings.Fields("proto cmd hub sensors rules testdata go.mod go.sum README.md DEVELOPERS.md LICENSE")

// topLevelFaults finds what does not belong in the root.
func (h *house) topLevelFaults() []fault {
	var faults []fault
	for _, name := range h.top {
		if name[0] != '.' && !slices.Contains(topLevel, name) && !slices.ContainsFunc(h.ignored, func(pattern string) bool {
			ok, err := path.Match(pattern, name)
			return err == nil && ok
		}) {
			faults = append(faults, fault{name, 1, "does not belong in the top folder: move it into one of " + strings.Join(topLevel[:6], ", ")})
		}
	}
	return faults
}

// readIgnored takes the patterns of .gitignore that speak of the top folder: a
// program built there is no fault.
func readIgnored(root fs.FS) []string {
	text, err := fs.ReadFile(root, ".gitignore")
	if err != nil {
		return nil // a module without one ignores nothing
	}
	var patterns []string
	for line := range strings.Lines(string(text)) {
		line = strings.Trim(strings.TrimSpace(line), "/")
		if line != "" && line[0] != '#' && !strings.Contains(line, "/") {
			patterns = append(patterns, line)
		}
	}
	return patterns
}

// lengthFaults finds the files that hold more than one idea.
func (h *house) lengthFaults() []fault {
	var faults []fault
	for name, lines := range h.lines {
		if lines > mostLines {
			faults = append(faults, fault{name, lines, "is longer than 400 lines: split it by idea"})
		}
	}
	return faults
}

// packageDocFaults finds the folders that don't tell a stranger what lives
// there.
func (h *house) packageDocFaults() []fault {
	var faults []fault
	for _, folder := range h.folders() {
		documented, name := false, ""
		for _, s := range h.files {
			if s.folder != folder || s.test {
				continue
			}
			name = s.tree.Name.Name
			start := "Package " + name + " "
			if name == "main" {
				start = "Command "
			}
			if s.tree.Doc != nil && strings.HasPrefix(s.tree.Doc.Text(), start) {
				documented = true
			}
		}
		if name != "" && !documented {
			faults = append(faults, fault{folder + "/doc.go", 1, "package " + name + " has no comment that says what lives there: begin one with \"Package " + name + "\" (a program's with \"Command\")"})
		}
	}
	return faults
}

// commentFaults finds the exported names that nobody explains. One comment on a
// group of constants or variables explains them all, but for types.
func commentFaults(s *source) []fault {
	if s.test {
		return nil
	}
	var faults []fault
	for _, declaration := range s.tree.Decls {
		switch d := declaration.(type) {
		case *ast.FuncDecl:
			if d.Name.IsExported() && exportedReceiver(d) && d.Doc == nil {
				faults = append(faults, s.faultAt(d, "%s is exported and has no comment", d.Name.Name))
			}
		case *ast.GenDecl:
			for _, spec := range d.Specs {
				name, explained := explainedName(d, spec)
				if name != nil && !explained {
					faults = append(faults, s.faultAt(name, "%s is exported and has no comment", name.Name))
				}
			}
		}
	}
	return faults
}

// explainedName gives the first exported name of a declaration, if it has one,
// and whether a comment stands with it.
func explainedName(d *ast.GenDecl, spec ast.Spec) (name *ast.Ident, explained bool) {
	switch n := spec.(type) {
	case *ast.TypeSpec:
		if n.Name.IsExported() {
			return n.Name, n.Doc != nil || d.Doc != nil && !d.Lparen.IsValid()
		}
	case *ast.ValueSpec:
		for _, one := range n.Names {
			if one.IsExported() {
				return one, d.Doc != nil || n.Doc != nil || n.Comment != nil
			}
		}
	}
	return nil, true
}

// exportedReceiver says whether a function is one, or a method that can be seen
// from outside.
func exportedReceiver(d *ast.FuncDecl) bool {
	if d.Recv == nil || len(d.Recv.List) == 0 {
		return true
	}
	receiver := d.Recv.List[0].Type
	for {
		switch r := receiver.(type) {
		case *ast.StarExpr:
			receiver = r.X
		case *ast.IndexExpr:
			receiver = r.X
		case *ast.IndexListExpr:
			receiver = r.X
		case *ast.Ident:
			return r.IsExported()
		default:
			return true
		}
	}
}
