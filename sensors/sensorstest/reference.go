package sensorstest

import (
	"encoding/csv"
	"os"
	"testing"
)

// Reference reads a table of testdata/reference, whose comment lines name its
// sources: the names of its columns, and its rows.
func Reference(t testing.TB, path string) (columns []string, rows [][]string) {
	t.Helper()
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	reader := csv.NewReader(file)
	reader.Comment = '#'
	all, err := reader.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 2 {
		t.Fatalf("%s has no rows", path)
	}
	return all[0], all[1:]
}
