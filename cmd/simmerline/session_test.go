package main

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"
)

func TestSessionLife(t *testing.T) {
	s := serve(t)
	walk(t, s, []step{
		{line: "session|list", out: "No session yet. One begins by itself when a bath warms, or with: simmerline session start --by WHO\n"},
		{line: "review|latest", code: exitNotWell, said: "simmerline: session \"latest\": not in the record: 'session list' shows those there are\n"},
		{line: "session|end|--by|Ilo", code: exitNotWell, said: "simmerline: no session is open; 'session start' opens one\n"},
		{line: "session|start|blue ring|--by|Maren", out: `Session 1, "blue ring", is open: from YYYY-MM-DD HH:MM:SS on, started by Maren.
recorded: synced (it outlives a power cut)
`},
		{line: "session|start|--by|Ilo", code: exitNotWell,
			said: "simmerline: a session is open already: \"blue ring\", since HH:MM; end it first, or mark the moment in it\n"},
		{line: "session|mark|added ammonia|--by|Ilo", out: "Marked: added ammonia\nrecorded: synced (it outlives a power cut)\n"},
		{line: "session|mark||--by|Ilo", code: exitWrongUse,
			said: "simmerline: TEXT is missing: say what happened\nRun \"simmerline session mark --help\" for how it is used.\n"},
		{line: "session|end|--by|Maren", out: `Session 1, "blue ring", has ended: YYYY-MM-DD HH:MM:SS to HH:MM:SS, ended by Maren. The bench goes on being watched and recorded.
To look back: simmerline review 1
recorded: synced (it outlives a power cut)
`},
		{line: "session|start|--by|Ilo|--since|25h", code: exitWrongUse,
			said: "simmerline: --since is 25h0m0s: give 0s to 24h0m0s\nRun \"simmerline session start --help\" for how it is used.\n"},
		{line: "session|start|--by|Ilo|--since|20m", out: `Session 2, "YYYY-MM-DD HH:MM", is open: from YYYY-MM-DD HH:MM:SS on, started by Ilo.
recorded: synced (it outlives a power cut)
`},
		{line: "session|list", out: `ID  FROM                 UNTIL     STARTED   ENDED       NAME
2   YYYY-MM-DD HH:MM:SS            by Ilo    still open  YYYY-MM-DD HH:MM
1   YYYY-MM-DD HH:MM:SS  HH:MM:SS  by Maren  by Maren    blue ring

To look back on one: simmerline review 2
`},
	})
}

// What a hub says and what its files hold is the same, while it writes and
// after it has gone.
func TestHubAndFilesAgree(t *testing.T) {
	s := serve(t)
	for _, args := range [][]string{{"start", "blue ring"}, {"mark", "stirred"}, {"end"}} {
		if code, _, said := try(append(append([]string{"session"}, args...), "--by", "Maren", "--hub", s.address)...); code != exitWell {
			t.Fatalf("session %v: code %d, said %q", args, code, said)
		}
	}
	for _, line := range []string{"session list", "session list --json", "review latest", "review 1 --json"} {
		words := strings.Fields(line)
		_, fromHub, said := try(append(words, "--hub", s.address)...)
		code, fromFiles, _ := try(append(words, "--data", s.data)...)
		if code != exitWell || fromHub == "" || fromHub != fromFiles {
			t.Errorf("%s: code %d, said %q\nfrom the hub   %q\nfrom the files %q", line, code, said, fromHub, fromFiles)
		}
	}
	_, before, _ := try("review", "blue ring", "--data", s.data)
	s.stop()
	if code, after, said := try("review", "blue ring", "--data", s.data); code != exitWell || after != before {
		t.Errorf("after the hub has gone: code %d, said %q, out %q; it was %q", code, said, after, before)
	}
}

func TestSessionListJSON(t *testing.T) {
	s := serve(t)
	try("session", "start", "blue ring", "--by", "Maren", "--hub", s.address)
	code, out, said := try("session", "list", "--json", "--hub", s.address)
	var got []map[string]any
	if err := json.Unmarshal([]byte(out), &got); err != nil || code != exitWell || len(got) != 1 {
		t.Fatalf("code %d, %v, said %q: %s", code, err, said, out)
	}
	if at, is := got[0]["started_at"].(string); !is || !strings.HasSuffix(at, "Z") {
		t.Errorf("started_at is %v, want a time in UTC", got[0]["started_at"])
	}
	delete(got[0], "started_at")
	want := map[string]any{"id": 1.0, "name": "blue ring", "started_how": "by command", "started_by": "Maren", "kept": false}
	if !reflect.DeepEqual(got[0], want) {
		t.Errorf("got %v, want %v", got[0], want)
	}
}
