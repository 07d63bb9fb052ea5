package sensorstest

import (
	"bufio"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"simmerline/sensors"
)

// Kind says what happened on a link.
type Kind byte

// The kinds of event, by the sign they have in a recording.
const (
	Written Kind = '>' // by the driver
	Arrived Kind = '<' // from the device
	Ended   Kind = '!' // the link is no more
)

// Event is one thing that happened on a link.
type Event struct {
	Kind  Kind
	At    time.Duration // when its last byte passed
	Bytes []byte        // of Written and Arrived
	Err   error         // of Ended: sensors.ErrUnplugged or sensors.ErrClosed
}

// Recording is the traffic of a link in the order in which it passed.
type Recording []Event

// String writes the recording as the text that ParseRecording reads.
func (r Recording) String() string {
	var text strings.Builder
	for _, e := range r {
		fmt.Fprintf(&text, "%c %v ", e.Kind, e.At)
		switch {
		case e.Kind == Ended && errors.Is(e.Err, sensors.ErrClosed):
			text.WriteString("closed")
		case e.Kind == Ended:
			text.WriteString("unplugged")
		case isText(e.Bytes):
			text.WriteString(strconv.Quote(string(e.Bytes)))
		default:
			fmt.Fprintf(&text, "% X", e.Bytes)
		}
		text.WriteByte('\n')
	}
	return text.String()
}

// isText tells bytes that are easier read as text than as hex.
func isText(p []byte) bool {
	for _, b := range p {
		if b != '\r' && b != '\n' && b != '\t' && (b < ' ' || b > '~') {
			return false
		}
	}
	return true
}

// ParseRecording reads a recording; its error names the line and the mend.
func ParseRecording(text string) (Recording, error) {
	var recording Recording
	lines := bufio.NewScanner(strings.NewReader(text))
	for number := 1; lines.Scan(); number++ {
		line := strings.TrimSpace(lines.Text())
		if line == "" || line[0] == '#' {
			continue
		}
		event, err := parseEvent(line)
		if err != nil {
			return nil, fmt.Errorf("sensorstest: line %d: %w", number, err)
		}
		if n := len(recording); n > 0 && event.At < recording[n-1].At {
			return nil, fmt.Errorf("sensorstest: line %d: %v is before the event above it; put events in order", number, event.At)
		}
		recording = append(recording, event)
	}
	if err := lines.Err(); err != nil {
		return nil, fmt.Errorf("sensorstest: read the recording: %w", err)
	}
	return recording, nil
}

func parseEvent(line string) (Event, error) {
	sign, rest, _ := strings.Cut(line, " ")
	offset, rest, _ := strings.Cut(strings.TrimSpace(rest), " ")
	rest = strings.TrimSpace(rest)
	at, err := time.ParseDuration(offset)
	if err != nil {
		return Event{}, fmt.Errorf("offset %q is none; write it as 12ms or 1.5s", offset)
	}
	event := Event{At: at}
	switch sign {
	case ">", "<":
		event.Kind = Kind(sign[0])
		event.Bytes, err = parseBytes(rest)
	case "!":
		event.Kind = Ended
		switch rest {
		case "unplugged":
			event.Err = sensors.ErrUnplugged
		case "closed":
			event.Err = sensors.ErrClosed
		default:
			err = fmt.Errorf("end %q is not known; use unplugged or closed", rest)
		}
	default:
		err = fmt.Errorf("sign %q is not known: one of > < ! begins an event", sign)
	}
	return event, err
}

func parseBytes(text string) ([]byte, error) {
	if strings.HasPrefix(text, `"`) {
		plain, err := strconv.Unquote(text)
		if err != nil {
			return nil, fmt.Errorf("text %s is not quoted as in Go", text)
		}
		return []byte(plain), nil
	}
	p, err := hex.DecodeString(strings.ReplaceAll(text, " ", ""))
	if err != nil || len(p) == 0 {
		return nil, fmt.Errorf("bytes %q are no pairs of hex digits; write 01 03 or \"text\"", text)
	}
	return p, nil
}

// Load reads a recording from a file, and fails the test when it can't.
func Load(t testing.TB, path string) Recording {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("recording: %v", err)
	}
	recording, err := ParseRecording(string(text))
	if err != nil {
		t.Fatalf("recording %s: %v", path, err)
	}
	return recording
}
