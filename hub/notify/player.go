package notify

import (
	"context"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"time"
)

// probeWithin is how long a player may take over 50 ms of near-silence. Sound
// servers that start on demand need a second or two.
const probeWithin = 4 * time.Second

// Player is an installed program that plays a WAV file.
type Player struct {
	// Name is one of PlayerNames.
	Name string
	// Path is where it was found.
	Path string
}

// PlayerNames lists all players that are known.
func PlayerNames() []string {
	return []string{"aplay", "pw-play", "paplay", "afplay", "powershell"}
}

// usualPlayers lists those of this system, in the order in which they are
// tried: aplay (ALSA), pw-play (PipeWire), paplay (PulseAudio); afplay on
// macOS; powershell on Windows.
func usualPlayers() []string {
	switch runtime.GOOS {
	case "darwin":
		return []string{"afplay"}
	case "windows":
		return []string{"powershell"}
	default:
		return []string{"aplay", "pw-play", "paplay"}
	}
}

// findAll tells the installed players from the missing, in the order of names.
// lookPath is exec.LookPath or a stand-in.
func findAll(names []string, lookPath func(string) (string, error)) (found []Player, missing []string) {
	for _, name := range names {
		if path, err := lookPath(name); err == nil {
			found = append(found, Player{Name: name, Path: path})
		} else {
			missing = append(missing, name)
		}
	}
	return found, missing
}

// soundVariable hands PowerShell the file's path without any quoting.
const soundVariable = "SIMMERLINE_SOUND"

// command gives the arguments and the additional environment that make the
// player play file once, quietly as to words.
func (p Player) command(file string) (args, env []string) {
	switch p.Name {
	case "aplay":
		return []string{"-q", "--", file}, nil
	case "powershell":
		return []string{"-NoProfile", "-NonInteractive", "-Command",
			"(New-Object System.Media.SoundPlayer $env:" + soundVariable + ").PlaySync()"}, []string{soundVariable + "=" + file}
	default:
		return []string{file}, nil
	}
}

// throughPlayer sounds through a player.
type throughPlayer struct {
	Player
	files *files
}

func (p *throughPlayer) name() string { return p.Name }

// probe tries the player, and has the sounds lie ready so that none has to be
// made first when it is needed.
func (p *throughPlayer) probe(ctx context.Context) error {
	if err := p.try(ctx); err != nil {
		return err
	}
	for _, level := range []Level{Danger, Warning, Test, Notice} {
		if _, err := p.files.path(level.String(), p.sound(level)); err != nil {
			return err
		}
	}
	return nil
}

func (p *throughPlayer) sound(level Level) func() []int16 {
	return func() []int16 { return soundOf(level, alarmSpan) }
}

// try plays near-silence.
func (p *throughPlayer) try(ctx context.Context) error {
	sound, err := p.play("probe", nearSilence)
	if err != nil {
		return err
	}
	limit := time.NewTimer(probeWithin)
	defer limit.Stop()
	select {
	case <-sound.ended:
		return sound.err
	case <-limit.C:
		sound.stop()
		return fmt.Errorf("%s hangs: 50 ms of sound were not over after %v", p.Name, probeWithin)
	case <-ctx.Done():
		sound.stop()
		return ctx.Err()
	}
}

func (p *throughPlayer) start(level Level) (*playing, error) {
	return p.play(level.String(), p.sound(level))
}

func (p *throughPlayer) play(name string, samples func() []int16) (*playing, error) {
	path, err := p.files.path(name, samples)
	if err != nil {
		return nil, err
	}
	args, env := p.command(path)
	return startChild(p.Player, args, env)
}

func (p *throughPlayer) close() { p.files.remove() }

// Config is what a bench file or a flag says of the hub's own sound.
type Config struct {
	// Player is "auto" (or empty) for the first way that works, "none" for a
	// silent hub, "bell" for the terminal's bell alone, or the name of a player
	// to be tried before the others.
	Player string
}

// Choices lists what Config.Player may be.
func Choices() []string { return append([]string{"auto", "none", "bell"}, PlayerNames()...) }

// Validate says what is wrong with the configuration, if anything.
func (c Config) Validate() error {
	if c.Player == "" || slices.Contains(Choices(), c.Player) {
		return nil
	}
	return fmt.Errorf("notify: there is no player %q; choose one of %s", c.Player, strings.Join(Choices(), ", "))
}
