package notify

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"sync"
	"time"
)

// endWithin bounds the wait for a killed player. Only one that hangs inside the
// kernel, in a sound driver, takes longer; it can't be helped and is left.
const endWithin = 2 * time.Second

// startChild starts a player, in a process group of its own so that what it
// starts ends with it.
func startChild(player Player, args, env []string) (*playing, error) {
	command, words := exec.Command(player.Path, args...), &tail{}
	if env != nil {
		command.Env = append(os.Environ(), env...)
	}
	command.Stderr = words
	// Something the player started may hold standard error open after it.
	command.WaitDelay = endWithin / 4
	setGroup(command)
	if err := command.Start(); err != nil {
		return nil, fmt.Errorf("%s can't be started: %w", player.Name, err)
	}
	ended := make(chan struct{})
	p := &playing{ended: ended}
	go func() {
		defer close(ended)
		err := command.Wait()
		killGroup(command)
		switch line := words.lastLine(); {
		case err == nil || errors.Is(err, exec.ErrWaitDelay): // the player itself ended well
		case line != "":
			// Its own last words say more than an exit code.
			p.err = fmt.Errorf("%s can't play: %s", player.Name, strings.TrimPrefix(line, player.Name+": "))
		default:
			p.err = fmt.Errorf("%s can't play: %w", player.Name, err)
		}
	}()
	p.stop = func() {
		select {
		case <-ended:
			return
		default:
		}
		killGroup(command)
		limit := time.NewTimer(endWithin)
		defer limit.Stop()
		select {
		case <-ended:
		case <-limit.C:
		}
	}
	return p, nil
}

// tail keeps the last of what is written to it, a kilobyte or so.
type tail struct {
	mu   sync.Mutex // guards text
	text []byte
}

func (t *tail) Write(p []byte) (int, error) {
	const most = 1024
	t.mu.Lock()
	defer t.mu.Unlock()
	t.text = append(t.text, p...)
	if over := len(t.text) - most; over > 0 {
		t.text = append(t.text[:0], t.text[over:]...)
	}
	return len(p), nil
}

// lastLine gives the last line that says anything, fit to be shown: printable,
// and not longer than a line of a screen.
func (t *tail) lastLine() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	lines := strings.Split(strings.TrimSpace(string(t.text)), "\n")
	line := strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return -1
		}
		return r
	}, strings.ToValidUTF8(lines[len(lines)-1], ""))
	if runes := []rune(line); len(runes) > 120 {
		line = string(runes[:120]) + "…"
	}
	return strings.TrimSpace(line)
}
