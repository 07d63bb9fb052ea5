//go:build unix

package notify

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// These tests start real processes, so they run in real time; they wait on
// events and bound them.

// gone waits until a process is no more; a zombie waiting for its parent counts
// as gone, since the parent may be the system's.
func gone(t *testing.T, pid int) {
	t.Helper()
	for range 500 {
		if errors.Is(syscall.Kill(pid, 0), syscall.ESRCH) {
			return
		}
		if stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid)); err == nil && strings.Contains(string(stat), ") Z ") {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Errorf("process %d is still there", pid)
}

// firstOf is the player that would be tried first.
func firstOf(lookPath func(string) (string, error)) (Player, bool) {
	found, _ := findAll(usualPlayers(), lookPath)
	if len(found) == 0 {
		return Player{}, false
	}
	return found[0], true
}

// tryOnce tries a player as the sounder does before it takes it.
func tryOnce(ctx context.Context, p Player) error {
	way := &throughPlayer{Player: p, files: &files{}}
	defer way.close()
	if err := way.try(ctx); err != nil {
		return fmt.Errorf("notify: %w", err)
	}
	return nil
}

func TestFindTakesTheFirstInstalled(t *testing.T) {
	players := newFakePlayers(t)
	if p, ok := firstOf(players.lookPath); ok {
		t.Errorf("found %+v where there is none", p)
	}
	usual := usualPlayers()
	last := players.add(usual[len(usual)-1], "plays")
	if p, ok := firstOf(players.lookPath); !ok || p != last {
		t.Errorf("got %+v, %v, want %+v", p, ok, last)
	}
	first := players.add(usual[0], "plays")
	if p, ok := firstOf(players.lookPath); !ok || p != first {
		t.Errorf("got %+v, %v, want %+v", p, ok, first)
	}
}

func TestProbe(t *testing.T) {
	players := newFakePlayers(t)
	for _, tt := range []struct{ mode, want string }{
		{"plays", ""},
		{"no device", "notify: aplay can't play: [31mopen error: no such device"},
		{"wrong", "notify: aplay can't play: exit status 2"},
	} {
		err := tryOnce(t.Context(), players.add("aplay", tt.mode))
		if got := errText(err); got != tt.want {
			t.Errorf("%s: got %q, want %q", tt.mode, got, tt.want)
		}
	}
	err := tryOnce(t.Context(), Player{Name: "aplay", Path: filepath.Join(players.folder, "nowhere")})
	if !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a player that is not there: %v", err)
	}
	if left := players.leftovers(); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

func TestProbeEndsAPlayerThatHangs(t *testing.T) {
	players := newFakePlayers(t)
	player := players.add("aplay", "hangs with a child")
	ctx, cancel := context.WithCancel(t.Context())
	failed := make(chan error)
	go func() { failed <- tryOnce(ctx, player) }()
	pids := append(players.started("aplay", "probe.wav", 1), players.started("aplay", "grandchild", 1)...)
	cancel()
	if err := <-failed; !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
	for _, pid := range pids {
		gone(t, pid)
	}
}

// A machine without a sound card is just what a plain aplay can show.
func TestProbeOfTheRealPlayerWithoutASoundCard(t *testing.T) {
	path, err := exec.LookPath("aplay")
	if err != nil {
		t.Skip("aplay is not installed")
	}
	if cards, err := os.ReadFile("/proc/asound/cards"); err == nil && !strings.Contains(string(cards), "no soundcards") {
		t.Skip("there is a sound card here")
	}
	err = tryOnce(t.Context(), Player{Name: "aplay", Path: path})
	if err == nil || !strings.HasPrefix(err.Error(), "notify: aplay can't play: ") {
		t.Errorf("got %v", err)
	}
}

func errText(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

// begun is what the hook Started is told.
type begun struct {
	level Level
	at    time.Time
}

// sounding runs a Sounder over fake players, without a terminal.
func sounding(t testing.TB, players *fakePlayers) (s *Sounder, started chan begun, end func()) {
	t.Helper()
	o, err := outfitOf(Config{}, players.lookPath, noTerminal)
	if err != nil {
		t.Fatal(err)
	}
	started = make(chan begun, 100)
	s = newSounder(o, Hooks{Started: func(l Level, at time.Time) { started <- begun{l, at} }})
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { defer close(done); s.Run(ctx) }()
	return s, started, func() { cancel(); <-done }
}

func until(t testing.TB, s *Sounder, what string, is func(State) bool) {
	t.Helper()
	for range 10_000 {
		if is(s.State()) {
			return
		}
		time.Sleep(time.Millisecond)
	}
	t.Fatalf("never %s: %+v", what, s.State())
}

func TestSounderThroughPlayers(t *testing.T) {
	players := newFakePlayers(t)
	players.add("aplay", "plays")
	s, started, end := sounding(t, players)
	until(t, s, "known to sound", func(s State) bool { return s.Checked && s.CanSound && s.By == "aplay" })
	s.Set(Warning)
	warning := players.started("aplay", "warning.wav", 1)[0]
	s.Set(Danger)
	danger := players.started("aplay", "danger.wav", 1)[0]
	gone(t, warning)
	if first, second := <-started, <-started; first.level != Warning || second.level != Danger {
		t.Errorf("started %s, then %s", first.level, second.level)
	}
	s.Set(Silence)
	gone(t, danger)
	s.Set(Danger)
	again := players.started("aplay", "danger.wav", 2)[1]
	end()
	gone(t, again)
	if left := players.leftovers(); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

func TestSounderLeavesAFailingPlayerForTheNext(t *testing.T) {
	players := newFakePlayers(t)
	players.add("aplay", "wrong soon")
	players.add("paplay", "plays")
	s, _, end := sounding(t, players)
	defer end()
	until(t, s, "known to sound", func(s State) bool { return s.CanSound })
	s.Set(Danger)
	players.started("aplay", "danger.wav", 1)
	players.started("paplay", "danger.wav", 1)
	until(t, s, "sounding through paplay", func(s State) bool { return s.CanSound && s.By == "paplay" && s.Sounding == Danger })
}

func TestSounderMakesItsFilesAgain(t *testing.T) {
	players := newFakePlayers(t)
	players.add("aplay", "plays")
	s, _, end := sounding(t, players)
	defer end()
	until(t, s, "known to sound", func(s State) bool { return s.CanSound })
	for _, folder := range players.leftovers() {
		os.RemoveAll(folder)
	}
	s.Set(Danger)
	players.started("aplay", "danger.wav", 1)
	time.Sleep(200 * time.Millisecond)
	if got := s.State(); got.Sounding != Danger || got.By != "aplay" {
		t.Errorf("the state is %+v", got)
	}
}

func TestSounderWithoutAnyPlayer(t *testing.T) {
	players := newFakePlayers(t)
	s, _, end := sounding(t, players)
	defer end()
	until(t, s, "checked", func(s State) bool { return s.Checked })
	got := s.State()
	if got.CanSound || !strings.Contains(got.Detail, "this hub can make no sound") ||
		!strings.Contains(got.Detail, strings.Join(usualPlayers(), ", ")) || !strings.Contains(got.Detail, "no terminal") {
		t.Errorf("the state is %+v", got)
	}
}

func TestConfig(t *testing.T) {
	players := newFakePlayers(t)
	for _, name := range usualPlayers() {
		players.add(name, "plays")
	}
	names := func(player string) []string {
		o, err := outfitOf(Config{Player: player}, players.lookPath, noTerminal)
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, w := range o.ways {
			names = append(names, w.name())
		}
		return names
	}
	for _, tt := range []struct {
		player string
		want   []string
	}{
		{"", append(usualPlayers(), "bell")},
		{"auto", append(usualPlayers(), "bell")},
		{"bell", []string{"bell"}},
		{"none", nil},
	} {
		if got := names(tt.player); !slices.Equal(got, tt.want) {
			t.Errorf("%q: got %v, want %v", tt.player, got, tt.want)
		}
	}
	if last := usualPlayers()[len(usualPlayers())-1]; names(last)[0] != last {
		t.Errorf("%q is not tried first: %v", last, names(last))
	}
	if _, err := New(Config{Player: "trumpet"}, Hooks{}); err == nil || !strings.Contains(err.Error(), `no player "trumpet"; choose one of auto, none, bell, aplay`) {
		t.Errorf("a player that is none: %v", err)
	}
	if off, err := Survey(t.Context(), Config{Player: "none"}); err != nil || off.CanSound || !off.Checked || !strings.Contains(off.Detail, "switched off") {
		t.Errorf("switched off, the state is %+v, %v", off, err)
	}
}

// BenchmarkSetToStart is the time from Set, out of silence, until the player has
// been started.
func BenchmarkSetToStart(b *testing.B) {
	players := newFakePlayers(b)
	players.add("aplay", "plays")
	s, started, end := sounding(b, players)
	defer end()
	until(b, s, "known to sound", func(s State) bool { return s.CanSound })
	var waits []time.Duration
	for b.Loop() {
		at := time.Now()
		s.Set(Danger)
		waits = append(waits, (<-started).at.Sub(at))
		s.Set(Silence)
		until(b, s, "silent", func(s State) bool { return s.Sounding == Silence })
	}
	slices.Sort(waits)
	b.ReportMetric(float64(waits[len(waits)/2].Microseconds()), "µs-median")
	b.ReportMetric(float64(waits[len(waits)*99/100].Microseconds()), "µs-p99")
}
