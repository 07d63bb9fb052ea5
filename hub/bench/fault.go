package bench

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
)

// maxFaults bounds what is reported of one file; a file with more is not a
// bench file at all.
const maxFaults = 200

// Fault is one thing that is wrong in a bench file, and how to mend it.
type Fault struct {
	File         string
	Line, Column int // both count from 1; a column counts characters
	What, Mend   string
}

// String gives the fault as "file:line:column: what; mend".
func (f Fault) String() string {
	return fmt.Sprintf("%s:%d:%d: %s; %s", f.File, f.Line, f.Column, f.What, f.Mend)
}

// Caution is something that is accepted, but that its owner should know.
type Caution struct {
	File         string
	Line, Column int
	What         string
}

// String gives the caution as "file:line:column: caution: what".
func (c Caution) String() string {
	return fmt.Sprintf("%s:%d:%d: caution: %s", c.File, c.Line, c.Column, c.What)
}

// place is where something stands in the file. The zero place is nowhere.
type place struct{ line, column int }

// checker collects what is found on the way through a file.
type checker struct {
	file     string
	faults   []Fault
	cautions []Caution
	overflow bool
	// aliasLine is the last line on which an alias was reported.
	aliasLine int
}

// fault notes what is wrong at a place, as a format with its arguments, and the
// mend.
func (c *checker) fault(at place, mend, format string, args ...any) {
	if len(c.faults) == maxFaults {
		c.overflow = true
		return
	}
	c.faults = append(c.faults, Fault{c.file, max(at.line, 1), max(at.column, 1), fmt.Sprintf(format, args...), mend})
}

func (c *checker) caution(at place, format string, args ...any) {
	c.cautions = append(c.cautions, Caution{c.file, max(at.line, 1), max(at.column, 1), fmt.Sprintf(format, args...)})
}

// sorted gives the faults by position, each once.
func (c *checker) sorted() []Fault {
	slices.SortStableFunc(c.faults, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	faults := slices.Compact(c.faults)
	if c.overflow {
		last := faults[len(faults)-1]
		faults = append(faults, Fault{c.file, last.Line, last.Column, "there are more faults than can be listed", "mend these first, then check again"})
	}
	return faults
}

func (c *checker) sortedCautions() []Caution {
	slices.SortStableFunc(c.cautions, func(a, b Caution) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return slices.Compact(c.cautions)
}

// quote shows what the file says, shortened and on one line.
func quote(text string) string {
	if runes := []rune(text); len(runes) > 48 {
		text = string(runes[:45]) + "..."
	}
	return strconv.Quote(text)
}
