package review

import (
	"context"
	"testing"
	"time"

	"simmerline/hub/record"
)

// TestOfARealRecord reviews a session that was written to a disk and is open.
func TestOfARealRecord(t *testing.T) {
	dir := t.TempDir()
	r, err := record.Open(dir, record.Options{})
	if err != nil {
		t.Fatal(err)
	}
	run, _, err := r.Begin(record.RunInfo{Wall: noon, BenchText: "site: Pennywhistle Yard\n", Software: "test"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.StartSession(record.Session{Name: "class", Start: at(run.ID, 10), StartedHow: record.ByItself}, nil, nil); err != nil {
		t.Fatal(err)
	}
	for second := 0.0; second <= 40; second += 5 {
		r.AddReadings([]record.Reading{celsius("hot-a", at(run.ID, second), 60+second), underTest(celsius("hot-a", at(run.ID, second+2), 99))})
	}
	r.Alive(at(run.ID, 50).At)
	if err := r.Close(context.Background()); err != nil {
		t.Fatal(err)
	}
	if report, err := record.Verify(t.Context(), dir); err != nil || !report.Well() {
		t.Errorf("verify: %v, %v", report.Faults, err)
	}

	reader, err := record.OpenReader(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer reader.Close()
	session, err := reader.FindSession(t.Context(), "latest")
	if err != nil {
		t.Fatal(err)
	}
	s, err := OfSession(t.Context(), reader, session, hotBath(10*time.Second, "hot-a"))
	if err != nil {
		t.Fatal(err)
	}
	b := s.Baths[0]
	near(t, "length", &s.LengthSeconds, 40)
	near(t, "least", b.LeastCelsius, 70)
	near(t, "mean", b.MeanCelsius, 85) // seven readings of 2 s each, 70 to 100
	near(t, "most", b.MostCelsius, 100)
	near(t, "known", &b.KnownSeconds, 14)
	near(t, "over limit", b.TimeOverLimitSeconds, 6)
	if s.Session.EndedHow != "" {
		t.Errorf("an open session ended %s", s.Session.EndedHow)
	}
}
