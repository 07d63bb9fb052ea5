package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"simmerline/hub/record"
)

func TestRecordVerify(t *testing.T) {
	w := &written{t: t, dir: t.TempDir()}
	wholeAfternoon(w)
	file := filepath.Join(w.dir, "record.db")
	code, out, said := try("record", "verify", "--data", w.dir)
	if code != exitWell || said != "" || !strings.Contains(out, file) || !strings.Contains(out, "3400 readings") || !strings.Contains(out, "no fault found") {
		t.Errorf("code %d, out %q, said %q", code, out, said)
	}
	code, out, _ = try("record", "verify", "--data", w.dir, "--json")
	var report record.Report
	if err := json.Unmarshal([]byte(out), &report); err != nil || code != exitWell || report.Readings != 3400 || report.Sessions != 1 || !report.Well() {
		t.Errorf("code %d, %v, got %+v", code, err, report)
	}
	code, _, said = try("record", "verify", "--data", t.TempDir())
	if code != exitNotWell || !strings.Contains(said, "no record in") {
		t.Errorf("an empty folder: code %d, said %q", code, said)
	}
	// A page in the middle overwritten: the fault is found, told with its place,
	// and the file is left as it is.
	whole, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	torn := append([]byte(nil), whole...)
	for i := range 4096 {
		torn[len(torn)/2/4096*4096+i] = 0xA5
	}
	if err := os.WriteFile(file, torn, 0o600); err != nil {
		t.Fatal(err)
	}
	code, out, said = try("record", "verify", "--data", w.dir)
	if code != exitNotWell || !strings.Contains(out, "the file's structure: ") || !strings.Contains(said, "in the record") {
		t.Errorf("a torn file: code %d, out %q, said %q", code, out, said)
	}
}
