package hub

import (
	"fmt"
	"strings"
	"unicode"
)

// longestText bounds names and marks, in bytes.
const longestText = 200

// needText wants a text that shows something.
func needText(what, text string) error {
	if !Shows(text) {
		return fmt.Errorf("hub: %w: %s is missing", ErrBadText, what)
	}
	return goodText(what, text)
}

func goodText(what, text string) error {
	if fault := TextFault(text); fault != "" {
		return fmt.Errorf("hub: %w: %s %s", ErrBadText, what, fault)
	}
	return nil
}

// Shows says whether there is anything to see in a text.
func Shows(text string) bool {
	return strings.ContainsFunc(text, func(r rune) bool { return unicode.IsGraphic(r) && !unicode.IsSpace(r) && !unicode.IsMark(r) })
}

// TextFault says what is wrong with a person's text and what to do, "" for
// nothing. It refuses what would upset a terminal or a page, or make it show
// something else than what was written: control characters, line ends, and the
// invisible ones that turn the direction of what follows. The two joiners stay,
// since some scripts can't be written without.
func TextFault(text string) string {
	if len(text) > longestText {
		return fmt.Sprintf("is %d bytes long: shorten it to %d", len(text), longestText)
	}
	for _, r := range text {
		if !unicode.IsGraphic(r) && r != '\u200c' && r != '\u200d' || r == unicode.ReplacementChar {
			return fmt.Sprintf("holds the character %U, which can't be shown: leave it out", r)
		}
	}
	return ""
}
