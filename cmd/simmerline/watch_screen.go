package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"time"

	tea "charm.land/bubbletea/v2"
	"google.golang.org/grpc/status"

	"simmerline/cmd/simmerline/screen"
	"simmerline/cmd/simmerline/stream"
	"simmerline/hub/grpcapi"
	simmerlinepb "simmerline/proto/simmerline/v1"
	"simmerline/sensors/clock"
)

// answerWithin is how long the hub may take to answer a key.
const answerWithin = 5 * time.Second

// screenOptions are how a live screen is shown.
type screenOptions struct {
	screen.Options
}

// runScreen shows the hub at an address on the console's terminal until ctx ends
// or the person leaves.
func runScreen(ctx context.Context, c console, address string, o screenOptions) error {
	connection, err := dialHub(address)
	if err != nil {
		return err
	}
	defer connection.Close()
	s := listenTo(ctx, connection, address, !o.Mute)
	defer s.close()
	// The first message comes before the screen, so that a hub that can't be
	// reached is told in plain lines.
	first, more := <-s.messages
	if !more {
		return s.err
	}
	clk := clock.NewSystem()
	l := &live{
		ctx: ctx, alarms: simmerlinepb.NewAlarmServiceClient(connection), clock: clk,
		model: screen.NewModel(o.Options, clk.SinceBoot()), width: 80, height: 24,
	}
	l.heard(first)
	p := tea.NewProgram(l, tea.WithOutput(c.Out), tea.WithInput(keyboard(c.In)), tea.WithoutSignalHandler())
	leave := context.AfterFunc(ctx, p.Quit)
	defer leave()
	go func() {
		for m := range s.messages {
			p.Send(m)
		}
		p.Send(over{})
	}()
	_, err = p.Run()
	s.stop()
	if err != nil {
		return fmt.Errorf("watch: the screen failed: %w", err)
	}
	return nil
}

// keyboard gives a terminal to read keys from; nil where there is none.
func keyboard(in io.Reader) io.Reader {
	if f, ok := in.(*os.File); ok && terminal(f) {
		return f
	}
	return nil
}

// live puts the pure view into a terminal program.
type live struct {
	ctx           context.Context
	alarms        simmerlinepb.AlarmServiceClient
	clock         clock.Clock
	model         *screen.Model
	width, height int
}

// What reaches the program besides keys and messages of the hub.
type (
	tick     struct{}
	over     struct{}
	answered string
)

// Init begins the ticking.
func (l *live) Init() tea.Cmd { return nextTick() }

func nextTick() tea.Cmd {
	return tea.Tick(lookEvery, func(time.Time) tea.Msg { return tick{} })
}

// Update takes in whatever happens.
func (l *live) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	now := l.clock.SinceBoot()
	switch msg := msg.(type) {
	case tea.WindowSizeMsg:
		l.width, l.height = msg.Width, msg.Height
	case tick:
		if l.model.Tick(now) {
			return l, tea.Batch(nextTick(), tea.Raw("\a"))
		}
		return l, nextTick()
	case stream.Message:
		l.heard(msg)
	case answered:
		l.model.Answered(now, string(msg))
	case over:
		return l, tea.Quit
	case tea.KeyPressMsg:
		return l, l.do(l.model.Key(now, msg.String(), msg.Key().Text))
	}
	return l, nil
}

// View draws.
func (l *live) View() tea.View {
	v := tea.NewView(l.model.Render(l.width, l.height, l.clock.SinceBoot()))
	v.AltScreen = true
	v.WindowTitle = "simmerline"
	return v
}

func (l *live) heard(m stream.Message) {
	l.model.Heard(l.clock.SinceBoot(), screen.Said{
		Snapshot: m.State, Announcement: m.Announcement, Stopping: m.Stopping(), Missed: m.Missed(),
	})
}

// do carries out what a key asks for.
func (l *live) do(do screen.Do) tea.Cmd {
	switch do.Kind {
	case screen.DoQuit:
		return tea.Quit
	case screen.DoAcknowledge:
		return l.ask(func(ctx context.Context) (string, error) {
			r, err := l.alarms.AcknowledgeAlarm(ctx, &simmerlinepb.AcknowledgeAlarmRequest{Name: do.Alarm, By: do.By})
			return "Acknowledged by " + do.By + ": " + do.Alarm + ". Recorded: " + grpcapi.RecordedFromWire(r.GetRecorded()).String() + ".", err
		})
	case screen.DoReset:
		return l.ask(func(ctx context.Context) (string, error) {
			r, err := l.alarms.ResetAlarm(ctx, &simmerlinepb.ResetAlarmRequest{Name: do.Alarm, By: do.By})
			return "Reset by " + do.By + ": " + do.Alarm + ". Recorded: " + grpcapi.RecordedFromWire(r.GetRecorded()).String() + ".", err
		})
	default:
		return nil
	}
}

// ask puts a request to the hub, beside the screen, and shows its answer.
func (l *live) ask(request func(context.Context) (string, error)) tea.Cmd {
	return func() tea.Msg {
		ctx, cancel := context.WithTimeout(l.ctx, answerWithin)
		defer cancel()
		text, err := request(ctx)
		if err != nil {
			return answered("Not done: " + plainly(status.Convert(err).Message()))
		}
		return answered(text)
	}
}
