package bench

import (
	"bytes"
	"regexp"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

var yamlError = regexp.MustCompile(`^yaml: (?:line (\d+): )?(.*)$`)

// syntax reports text that is no YAML. The parser tells a line only, and often
// that of the mapping around the trouble; where it really begins is found by
// asking how many lines from the top still read well.
func (c *checker) syntax(text []byte, err error) {
	if tabs := indentingTabs(text); len(tabs) > 0 {
		for _, tab := range tabs {
			c.fault(tab, "indent with blanks", "a tab stands where the indentation should be")
		}
		return
	}
	line, problem := 1, err.Error()
	if parts := yamlError.FindStringSubmatch(problem); parts != nil {
		problem = parts[2]
		if n, err := strconv.Atoi(parts[1]); err == nil {
			line = n
		}
	}
	lines := bytes.SplitAfter(text, []byte("\n"))
	line = firstBad(lines, line, len(text))
	column := 1
	if line <= len(lines) {
		column += len(lines[line-1]) - len(bytes.TrimLeft(lines[line-1], " -"))
	}
	what, mend := plainProblem(problem)
	c.fault(place{line, column}, mend, "%s", what)
}

// firstBad gives the line after the longest beginning of the file that reads
// well. It looks back a bounded way from the line that the parser gave, less far
// in a longer file, and gives that line where all of it is bad.
func firstBad(lines [][]byte, reported, length int) int {
	lookBack := min(max((1<<20)/(length+1), 8), 200)
	reported = min(max(reported, 1), len(lines))
	top := min(reported+2, len(lines))
	for n := top; n > max(top-lookBack, 0); n-- {
		var any yaml.Node
		if n < len(lines) && yaml.Unmarshal(bytes.Join(lines[:n], nil), &any) == nil {
			return n + 1
		}
	}
	if top <= lookBack {
		return 1
	}
	return reported
}

// indentingTabs finds the first tab in the indentation of each line that has one.
func indentingTabs(text []byte) []place {
	var found []place
	for i, line := range strings.Split(string(text), "\n") {
		indent := line[:len(line)-len(strings.TrimLeft(line, " \t"))]
		if tab := strings.IndexByte(indent, '\t'); tab >= 0 && strings.TrimSpace(line) != "" {
			found = append(found, place{i + 1, tab + 1})
		}
	}
	return found
}

// plainProblem puts what the YAML parser says into words, with the mend.
func plainProblem(problem string) (what, mend string) {
	for _, p := range []struct{ says, what, mend string }{
		{"mapping values are not allowed", "a colon stands where no key can be", "give the keys of one mapping the same indentation, and put text that holds a colon in quotes"},
		{"did not find expected key", "this does not line up with the keys before it", "give the keys of one mapping the same indentation"},
		{"did not find expected '-' indicator", "this does not line up with the list before it", "begin each entry of the list with a hyphen under the first one"},
		{"could not find expected ':'", "a key stands here without its colon", "write key: value"},
		{"did not find expected ',' or '}'", "braces are opened here and not closed, or a comma is missing", "close them with }, with a comma between the entries, and put text that holds commas or colons in quotes"},
		{"did not find expected ',' or ']'", "a bracket is opened here and not closed, or a comma is missing", "close it with ], with a comma between the entries"},
		{"did not find expected node content", "a value is missing, or a bracket or brace is opened here and not closed", "close what is opened on the same line"},
		{"found unexpected end of stream", "a quote is opened here and not closed", "close the quote on the same line"},
		{"found character that cannot start any token", "a value begins with a character that has its own meaning", "put the value in quotes"},
		{"unknown escape character", "a backslash stands in double quotes", "use single quotes instead"},
		{"unknown anchor", "aliases (*) are not used in a bench file", "write the values out where they are needed"},
	} {
		if strings.Contains(problem, p.says) {
			return p.what, p.mend
		}
	}
	return "this can't be read as YAML (" + problem + ")", "compare the line with testdata/benches/good/studio.yaml"
}
