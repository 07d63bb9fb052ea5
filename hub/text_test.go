package hub

import (
	"errors"
	"strings"
	"testing"

	"simmerline/rules"
)

func TestTextsThatDeceiveAreRefused(t *testing.T) {
	inBubble(t, func(t *testing.T, b *bubble) {
		for what, text := range map[string]string{
			"an escape":           "a\x1b[2J",
			"turned about":        "safe \u202egnihton",
			"an isolate":          "a\u2066b",
			"a line of its own":   "stirred\u2028LEAVE",
			"a paragraph":         "stirred\u2029LEAVE",
			"no UTF-8":            "a\xff",
			"an invisible mark":   "a\u200eb",
			"a byte order mark":   "\ufeffa",
			"private use":         "a\ue000",
			"a tag":               "a\U000e0041",
			"too long":            strings.Repeat("ä", longestText/2+1),
			"nothing to be seen":  "\u200d",
			"nothing but a space": "\u00a0",
		} {
			if _, err := b.hub.Mark(t.Context(), text, "Ilo"); !errors.Is(err, ErrBadText) {
				t.Errorf("%s: a mark got %v", what, err)
			}
			if _, _, err := b.hub.StartSession(t.Context(), "ring", 0, text); !errors.Is(err, ErrBadText) {
				t.Errorf("%s: who starts a session got %v", what, err)
			}
			if _, _, err := b.hub.Acknowledge(t.Context(), "hot-sulfide-danger", text, ""); !errors.Is(err, ErrBadText) && !errors.Is(err, rules.ErrNoName) {
				t.Errorf("%s: who acknowledges got %v", what, err)
			}
		}
		for _, text := range []string{"Zoë", "بافت", "می\u200cخواهم", "👩\u200d🔬 stirred", "ü\u0308", "銅"} {
			if _, err := b.hub.Mark(t.Context(), text, "Ilo"); err != nil {
				t.Errorf("%q: %v", text, err)
			}
		}
	})
}
