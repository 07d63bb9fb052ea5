package main

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"simmerline/hub"
	"simmerline/hub/bench"
	"simmerline/hub/record"
	"simmerline/rules"
	"simmerline/sensors"
	"simmerline/sensors/clock"
	"simmerline/sensors/poll"
)

// aStation is a station whose ports are never plugged in.
func aStation(t *testing.T, data string) *station {
	t.Helper()
	path := filepath.Join("..", "..", "testdata", "benches", "good", "minimal.yaml")
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	b, faults := bench.Parse(path, text)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	listener, err := listen("127.0.0.1:0", false)
	if err != nil {
		t.Fatal(err)
	}
	return &station{
		bench: b, clock: clock.NewSystem(), data: data, listener: listener, player: "none",
		log: slog.New(slog.DiscardHandler),
		open: func(sensors.PortConfig) (poll.Port, string, error) {
			return nil, "", &sensors.OpenError{Kind: sensors.ErrMissing, Sentence: "not plugged in"}
		},
	}
}

// A data folder that can't be made must not keep the alarms from running.
func TestStationRunsWhereItsFolderCantBeUsed(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	t.Setenv("TMPDIR", t.TempDir())
	s := aStation(t, filepath.Join(file, "data"))
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	var raised bool
	s.ready = func(h *hub.Hub) {
		go func() {
			defer cancel()
			for ctx.Err() == nil {
				if view := h.Snapshot(); view != nil {
					for _, a := range view.View.Alarms {
						raised = raised || a.Name == "record-failing" && a.State == rules.Unacknowledged &&
							strings.Contains(a.Saying.Means, "its folder can't be used")
					}
				}
				if raised {
					return
				}
				wait := time.NewTimer(50 * time.Millisecond)
				select {
				case <-wait.C:
				case <-ctx.Done():
				}
			}
		}()
	}
	if err := s.run(ctx); err != nil {
		t.Fatal(err)
	}
	if !raised {
		t.Error("the record that can't be kept raised no alarm")
	}
}

// Two hubs over one record would be two hubs over the same ports.
func TestStationRefusesARecordInUse(t *testing.T) {
	data := t.TempDir()
	rec, err := record.Open(data, record.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer rec.Close(t.Context())
	s := aStation(t, data)
	defer s.listener.Close()
	if err := s.run(t.Context()); !errors.Is(err, record.ErrInUse) {
		t.Errorf("got %v, want ErrInUse", err)
	}
}
