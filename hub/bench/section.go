package bench

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"go.yaml.in/yaml/v3"
)

// section is one mapping of the file while it is read: each key is taken by
// name, and what nobody took is refused at the end.
type section struct {
	c     *checker
	what  string // "port bath-wire"
	at    place
	keys  []*yaml.Node
	value map[string]*yaml.Node
	known []string
}

// section opens a mapping. What is none is reported, and read as if empty; ok
// is then false.
func (c *checker) section(n *yaml.Node, what, example string) (s *section, ok bool) {
	s = &section{c: c, what: what, at: at(n), value: map[string]*yaml.Node{}}
	if n.Kind != yaml.MappingNode {
		if n.Kind != yaml.AliasNode {
			c.fault(s.at, "write it as "+example, "%s must be keys with values, not %s", what, kindWord(n))
		}
		return s, false
	}
	for i := 0; i+1 < len(n.Content); i += 2 {
		if key := n.Content[i]; s.value[key.Value] == nil {
			s.keys = append(s.keys, key)
			s.value[key.Value] = n.Content[i+1]
		}
	}
	return s, true
}

// take gives the value of a key, nil where there is none, and notes that the
// key is known here.
func (s *section) take(key string) *yaml.Node {
	s.known = append(s.known, key)
	return s.value[key]
}

func (s *section) has(key string) bool { return s.value[key] != nil }

// placeOf tells where a key's value stands, or where the section does.
func (s *section) placeOf(key string) place {
	if n := s.value[key]; n != nil {
		return at(n)
	}
	return s.at
}

// misplaced refuses keys that exist in a bench file, but not here.
func (s *section) misplaced(why, mend string, keys ...string) {
	for _, key := range keys {
		i := slices.IndexFunc(s.keys, func(k *yaml.Node) bool { return k.Value == key })
		if i >= 0 && !slices.Contains(s.known, key) {
			s.c.fault(at(s.keys[i]), mend, "%s: %s %s", s.what, key, why)
			s.keys = slices.Delete(s.keys, i, i+1)
		}
	}
}

// done refuses every key that nobody took.
func (s *section) done() {
	for _, key := range s.keys {
		if key.Kind != yaml.ScalarNode || key.Tag == "!!merge" || slices.Contains(s.known, key.Value) {
			continue
		}
		mend := "take it out; the keys here are " + strings.Join(slices.Compact(slices.Sorted(slices.Values(s.known))), ", ")
		if near := nearest(key.Value, s.known); near != "" {
			mend = "did you mean " + near + "?"
		} else if strings.IndexAny(key.Value, "0123456789") == 0 {
			mend = "a comma parts entries here; write the decimal point as a point, or put the text before in quotes"
		}
		s.c.fault(at(key), mend, "%s: the key %s is not known", s.what, quote(key.Value))
	}
}

// missing reports that a key which must be there is not.
func (s *section) missing(key, example string) {
	s.c.fault(s.at, fmt.Sprintf("write %s: %s", key, example), "%s has no %s", s.what, key)
}

// need reports a key that is not there; a value that is there but wrong has
// been reported already.
func (s *section) need(key, example string) {
	if !s.has(key) {
		s.missing(key, example)
	}
}

func (s *section) trouble(key string, p *problem) {
	s.c.fault(s.placeOf(key), p.mend, "%s: %s: %s", s.what, key, p.what)
}

// scalar gives the single value of a key; ok is false where there is none,
// and what is there but no single value is reported.
func (s *section) scalar(key string) (text string, ok bool) {
	n := s.take(key)
	switch {
	case n == nil || n.Kind == yaml.AliasNode:
		return "", false
	case n.Kind != yaml.ScalarNode:
		s.trouble(key, &problem{"it must be a single value, not " + kindWord(n), "write " + key + ": and one value"})
		return "", false
	case isEmpty(n):
		s.trouble(key, &problem{"it is empty", "give it a value or take the key out"})
		return "", false
	}
	return n.Value, true
}

// text gives plain text on one line, of at most limit characters.
func (s *section) text(key string, limit int) string {
	text, ok := s.scalar(key)
	if !ok {
		return ""
	}
	text = strings.TrimSpace(text)
	switch length := len([]rune(text)); {
	case length == 0:
		s.trouble(key, &problem{"it is empty", "give it a value or take the key out"})
	case strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) }):
		s.trouble(key, &problem{"it holds a line break, or a character that does not print", "write plain text on one line"})
	case length > limit:
		s.trouble(key, &problem{fmt.Sprintf("it has %d characters, more than %d", length, limit), "say it more briefly"})
	default:
		return text
	}
	return ""
}

// choice gives the index of one of the words; ok is false where there is none
// or another.
func (s *section) choice(key string, words ...string) (index int, ok bool) {
	text, ok := s.scalar(key)
	if !ok {
		return 0, false
	}
	if i := slices.Index(words, text); i >= 0 {
		return i, true
	}
	mend := "write " + listed(words)
	if near := nearest(text, words); near != "" {
		mend = "did you mean " + near + "?"
	}
	s.trouble(key, &problem{quote(text) + " is not one of " + strings.Join(words, ", "), mend})
	return 0, false
}

// flag gives a true or false; ok is false where there is none.
func (s *section) flag(key string) (value, ok bool) {
	i, ok := s.choice(key, "false", "true")
	return i == 1, ok
}

// integer gives a whole number from low to high; ok is false where there is
// none or another.
func (s *section) integer(key string, low, high int) (value int, ok bool) {
	number, ok := s.number(key)
	if !ok {
		return 0, false
	}
	if number != float64(int(number)) || number < float64(low) || number > float64(high) {
		s.trouble(key, &problem{fmt.Sprintf("%s is not a whole number from %d to %d", figure(number), low, high), "write a number in that range"})
		return 0, false
	}
	return int(number), true
}

// number gives a plain number without a unit.
func (s *section) number(key string) (value float64, ok bool) {
	text, ok := s.scalar(key)
	if !ok {
		return 0, false
	}
	value, trouble := parseNumber(text, "0.1")
	if trouble != nil {
		s.trouble(key, trouble)
		return 0, false
	}
	return value, true
}

// quantity gives a figure with its unit, in the dimension's base unit.
func (s *section) quantity(key string, d dimension) (value float64, ok bool) {
	text, ok := s.scalar(key)
	if !ok {
		return 0, false
	}
	value, trouble := d.parse(text)
	if trouble != nil {
		s.trouble(key, trouble)
		return 0, false
	}
	return value, true
}

// span gives a range with its unit, in the dimension's base unit.
func (s *section) span(key string, d dimension) (low, high float64, ok bool) {
	text, ok := s.scalar(key)
	if !ok {
		return 0, 0, false
	}
	low, high, trouble := d.parseSpan(text)
	if trouble != nil {
		s.trouble(key, trouble)
		return 0, 0, false
	}
	return low, high, true
}

// duration gives a time from low to high, and otherwise where there is none.
func (s *section) duration(key string, low, high, otherwise time.Duration) time.Duration {
	value, ok := s.quantity(key, seconds)
	if !ok {
		return otherwise
	}
	d := time.Duration(value * float64(time.Second)).Round(time.Millisecond)
	if d < low || d > high {
		s.trouble(key, &problem{fmt.Sprintf("%s is not between %s and %s", timeWords(d), timeWords(low), timeWords(high)), "write a time in that range"})
		return otherwise
	}
	return d
}

// list gives the entries of a list; what is there but no list is reported.
func (s *section) list(key, example string) []*yaml.Node {
	n := s.take(key)
	if n == nil || n.Kind == yaml.AliasNode {
		return nil
	}
	if n.Kind != yaml.SequenceNode {
		s.trouble(key, &problem{"it must be a list, not " + kindWord(n), "write " + example})
		return nil
	}
	return n.Content
}

// emptyList says whether a key holds a list without entries.
func (s *section) emptyList(key string) bool {
	n := s.value[key]
	return n != nil && n.Kind == yaml.SequenceNode && len(n.Content) == 0
}

// timeWords prints a time as people write it in a bench file: "10 s", "2 min".
func timeWords(d time.Duration) string {
	switch {
	case d != 0 && d%time.Hour == 0:
		return fmt.Sprintf("%d h", d/time.Hour)
	case d != 0 && d%time.Minute == 0:
		return fmt.Sprintf("%d min", d/time.Minute)
	default:
		return figure(d.Seconds()) + " s"
	}
}
