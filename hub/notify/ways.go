package notify

import (
	"context"
	"fmt"
	"io"
	"os/exec"
	"slices"
	"strings"
	"time"
)

// way is one way to make a sound. Its errors are bare sentences, made to be
// shown. start and close are called by one goroutine; probe may run beside them.
type way interface {
	name() string
	// probe finds out, within some seconds, whether the way works here.
	probe(ctx context.Context) error
	// start begins the sound of a level, all its cycles, and returns at once.
	start(level Level) (*playing, error)
	close()
}

// playing is a sound under way.
type playing struct {
	ended <-chan struct{} // closed once the sound is over or has failed
	err   error           // why it failed; to be read after ended
	stop  func()          // cuts it and waits, within bounds, until it has ended
}

// standing is how far a way is known to work.
type standing uint8

const (
	untried standing = iota
	works
	failed
)

// wayState is a way and what is known of it.
type wayState struct {
	way
	standing standing
	err      error // why it failed
}

func (w *wayState) succeed()       { w.standing, w.err = works, nil }
func (w *wayState) fail(err error) { w.standing, w.err = failed, err }

// outfit is all that this machine offers, best way first.
type outfit struct {
	ways    []*wayState
	missing []string // players that are not installed
	off     bool     // switched off by the configuration
}

// outfitOf looks for players, puts the configured one first, and the bell last.
func outfitOf(config Config, lookPath func(string) (string, error), terminal func() (io.WriteCloser, error)) (*outfit, error) {
	if err := config.Validate(); err != nil {
		return nil, err
	}
	o := &outfit{off: config.Player == "none"}
	if o.off {
		return o, nil
	}
	if config.Player != "bell" {
		names := usualPlayers()
		if slices.Contains(PlayerNames(), config.Player) {
			names = slices.DeleteFunc(names, func(name string) bool { return name == config.Player })
			names = slices.Insert(names, 0, config.Player)
		}
		var found []Player
		found, o.missing = findAll(names, lookPath)
		files := &files{}
		for _, player := range found {
			o.ways = append(o.ways, &wayState{way: &throughPlayer{Player: player, files: files}})
		}
	}
	o.ways = append(o.ways, &wayState{way: &bell{open: terminal}})
	return o, nil
}

// Survey tries, one after the other, every way this machine has to sound, and
// says how it stands, as a Sounder with this configuration would find it. It
// takes some seconds at most for each way that hangs.
func Survey(ctx context.Context, config Config) (State, error) {
	o, err := outfitOf(config, exec.LookPath, openTerminal)
	if err != nil {
		return State{}, err
	}
	defer o.close()
	for _, w := range o.ways {
		if err := w.probe(ctx); err != nil {
			w.fail(err)
		} else {
			w.succeed()
		}
	}
	return o.state(-1), nil
}

// best gives the first way that works, or -1.
func (o *outfit) best() int {
	return slices.IndexFunc(o.ways, func(w *wayState) bool { return w.standing == works })
}

func (o *outfit) close() {
	for _, w := range o.ways {
		w.close()
	}
}

// State is what the hub can say of its own sound.
type State struct {
	// Checked is false, for a moment after the start, until it is known whether
	// this hub can sound.
	Checked bool
	// CanSound says that at least one way works, as far as a program can tell.
	CanSound bool
	// By is the way in use: a player's name or "bell"; empty when there is none.
	By string
	// Detail is a sentence or two for people: by what, or why not and what to do.
	Detail string
	// Sounding is what is being played at this moment.
	Sounding Level
	// HeardAt is when a person last said that the test was heard by this way;
	// zero when nobody has.
	HeardAt time.Time
}

// state describes the outfit, with the way in use where index is not negative.
func (o *outfit) state(index int) State {
	var state State
	if index < 0 {
		index = o.best()
	}
	if index >= 0 {
		state.By, state.CanSound = o.ways[index].name(), o.ways[index].standing == works
	}
	state.Checked = state.CanSound ||
		!slices.ContainsFunc(o.ways, func(w *wayState) bool { return w.standing == untried })
	state.Detail = o.describe(state)
	return state
}

func (o *outfit) describe(state State) string {
	var troubles []string
	for _, w := range o.ways {
		if w.standing == failed && w.err != nil {
			troubles = append(troubles, w.err.Error())
		}
	}
	if len(o.missing) > 0 && !state.CanSound {
		troubles = append(troubles, "not installed: "+strings.Join(o.missing, ", "))
	}
	because := ""
	if len(troubles) > 0 {
		because = ": " + strings.Join(troubles, "; ")
	}
	switch {
	case o.off:
		return "this hub makes no sound: it is switched off in its configuration (player: none)"
	case state.CanSound && state.By == "bell":
		return "only the bell of the hub's own terminal, which may be turned off" + because
	case state.CanSound:
		return fmt.Sprintf("sounds through %s; how loud it is can only be judged by ear", state.By)
	case !state.Checked:
		return "the ways to make a sound are being tried" + because
	default:
		return "this hub can make no sound" + because + ". Connect a loudspeaker and install a player, or keep a screen with sound on watch"
	}
}
