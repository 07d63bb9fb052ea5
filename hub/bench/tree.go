package bench

import (
	"bytes"
	"errors"
	"io"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// MaxBytes is how long a bench file may be. A full bench has a few thousand.
const MaxBytes = 64 << 10

// tree reads the text as one YAML mapping with positions. It returns nil, with
// at least one fault, when there is none to go on with.
func (c *checker) tree(text []byte) *yaml.Node {
	if len(text) > MaxBytes {
		c.fault(place{}, "give the bench file itself; a bench needs a few thousand bytes",
			"the file has %d bytes, more than the %d a bench file may have", len(text), MaxBytes)
		return nil
	}
	if !c.readable(text) {
		return nil
	}
	decoder := yaml.NewDecoder(bytes.NewReader(text))
	var document, second yaml.Node
	err := decoder.Decode(&document)
	if errors.Is(err, io.EOF) {
		c.fault(place{}, "begin with bench: and a name, then site, ports and baths; testdata/benches/good/studio.yaml is one to copy",
			"the file says nothing")
		return nil
	}
	if err == nil {
		if err = decoder.Decode(&second); errors.Is(err, io.EOF) {
			err = nil
		} else if err == nil {
			c.fault(at(&second), "keep one bench in the file and take out the line ---", "a second document begins here")
		}
	}
	if err != nil {
		c.syntax(text, err)
		return nil
	}
	root := document.Content[0]
	if root.Kind != yaml.MappingNode {
		c.fault(at(root), "write key: value lines, beginning with bench: and a name", "the file holds %s, not the keys of a bench", kindWord(root))
		return nil
	}
	c.plain(root)
	return root
}

// readable refuses what no editor shows: bytes that are no UTF-8 text, and
// control characters.
func (c *checker) readable(text []byte) bool {
	here := place{1, 1}
	rest := bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
	well := true
	for len(rest) > 0 {
		r, size := utf8.DecodeRune(rest)
		switch {
		case r == '\r' && !bytes.HasPrefix(rest, []byte("\r\n")): // YAML would count a line that no editor does
			c.fault(here, "save the file with line feeds at the ends of lines", "a carriage return stands here without its line feed")
			well = false
		case r == utf8.RuneError && size == 1:
			c.fault(here, "save the file as UTF-8 text", "the byte 0x%02x is no text", rest[0])
			return false // the rest would be more of the same
		case r < ' ' && r != '\n' && r != '\r' && r != '\t', r >= 0x7f && r < 0xa0, r == '\u2028', r == '\u2029', r == '\ufeff', r == '\ufffe', r == '\uffff':
			c.fault(here, "take it out", "the control character U+%04X stands here", r)
			well = false
		}
		if r == '\n' {
			here = place{here.line + 1, 1}
		} else {
			here.column++
		}
		rest = rest[size:]
	}
	return well
}

// plain refuses the parts of YAML that a bench file has no use for, and keys
// that stand twice.
func (c *checker) plain(n *yaml.Node) {
	if (n.Kind == yaml.AliasNode || n.Anchor != "") && c.aliasLine != n.Line { // one a line is enough
		c.aliasLine = n.Line
		c.fault(at(n), "write the values out where they are needed", "anchors (&) and aliases (*) are not used in a bench file")
	}
	if n.Style&yaml.TaggedStyle != 0 {
		c.fault(at(n), "take the tag out", "the tag %s has no meaning in a bench file", quote(n.Tag))
	}
	if n.Kind == yaml.MappingNode {
		seen := map[string]int{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			key := n.Content[i]
			switch first, twice := seen[key.Value]; {
			case key.Kind != yaml.ScalarNode:
				c.fault(at(key), "write a word, a colon and a value", "a key must be a word, not %s", kindWord(key))
			case key.Tag == "!!merge":
				c.fault(at(key), "write the values out where they are needed", "merging with << is not used in a bench file")
			case twice:
				c.fault(at(key), "keep one of the two", "%s stands twice here, first on line %d", quote(key.Value), first)
			default:
				seen[key.Value] = key.Line
			}
		}
	}
	for _, child := range n.Content {
		c.plain(child)
	}
}

func at(n *yaml.Node) place { return place{n.Line, n.Column} }

func kindWord(n *yaml.Node) string {
	switch {
	case n.Kind == yaml.MappingNode:
		return "keys with values"
	case n.Kind == yaml.SequenceNode:
		return "a list"
	case n.Kind == yaml.AliasNode:
		return "an alias"
	case isEmpty(n):
		return "nothing"
	default:
		return "the single value " + quote(n.Value)
	}
}

// isEmpty says whether a scalar holds nothing: "key:" with no value, ~, or "".
func isEmpty(n *yaml.Node) bool {
	return n.Kind == yaml.ScalarNode && (n.Tag == "!!null" || n.Value == "")
}
