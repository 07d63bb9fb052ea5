package notify

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// journal keeps what happened, each with its time since the beginning.
type journal struct {
	began time.Time
	mu    sync.Mutex
	lines []string
}

func (j *journal) add(what string) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.lines = append(j.lines, fmt.Sprintf("%v %s", time.Since(j.began), what))
}

// take gives what has happened since it was last asked.
func (j *journal) take() []string {
	synctest.Wait()
	j.mu.Lock()
	defer j.mu.Unlock()
	lines := j.lines
	j.lines = nil
	return lines
}

// fakeWay is a way whose troubles a test decides.
type fakeWay struct {
	title string

	mu         sync.Mutex
	probeErr   error
	probeTakes time.Duration
	startErr   error
	endsAfter  time.Duration // 0: after the sound's own length; negative: never
	endErr     error
	log        *journal // shared by the ways of one test
	inUse      int      // sounds and probes that hold the device now
	mostInUse  int
	probes     int
}

func (f *fakeWay) name() string { return f.title }
func (f *fakeWay) close()       {}

func (f *fakeWay) set(change func(*fakeWay)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	change(f)
}

func (f *fakeWay) hold(n int) {
	f.inUse += n
	f.mostInUse = max(f.mostInUse, f.inUse)
}

func (f *fakeWay) probe(ctx context.Context) error {
	f.set(func(f *fakeWay) { f.probes++; f.hold(1) })
	defer f.set(func(f *fakeWay) { f.hold(-1) })
	select {
	case <-time.After(f.probeTakes):
	case <-ctx.Done():
		return ctx.Err()
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.probeErr
}

func (f *fakeWay) note(what string, level Level) {
	f.log.add(fmt.Sprintf("%s %s %s", f.title, what, level))
}

func (f *fakeWay) start(level Level) (*playing, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.startErr != nil {
		return nil, f.startErr
	}
	f.note("starts", level)
	f.hold(1)
	after := f.endsAfter
	if after == 0 {
		after = (&sound{level: level}).length()
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan struct{})
	p := &playing{ended: ended, err: f.endErr}
	go func() {
		defer close(ended)
		if after < 0 {
			<-ctx.Done()
			return
		}
		select {
		case <-ctx.Done():
		case <-time.After(after):
			f.set(func(f *fakeWay) { f.note("ends", level); f.hold(-1) })
		}
	}()
	p.stop = func() {
		select {
		case <-ended:
			return
		default:
		}
		cancel()
		<-ended
		f.set(func(f *fakeWay) { f.note("is cut from", level); f.hold(-1) })
	}
	return p, nil
}

// bench is a Sounder over fake ways, running in a synctest bubble.
type bench struct {
	*Sounder
	log     *journal
	started []Level
	states  []State
	end     func()
}

func run(t *testing.T, ways ...*fakeWay) *bench {
	t.Helper()
	b := &bench{log: &journal{began: time.Now()}}
	o := &outfit{}
	for _, w := range ways {
		w.log = b.log
		o.ways = append(o.ways, &wayState{way: w})
	}
	b.Sounder = newSounder(o, Hooks{
		Started: func(level Level, _ time.Time) { b.started = append(b.started, level) },
		Changed: func(s State) { b.states = append(b.states, s) },
	})
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { defer close(done); b.Run(ctx) }()
	b.end = func() { cancel(); <-done }
	return b
}

// wantLog compares what the ways have done, as "when who what level".
func (b *bench) wantLog(t *testing.T, want ...string) {
	t.Helper()
	if got := b.log.take(); !slices.Equal(got, want) {
		t.Errorf("got\n\t%s\nwant\n\t%s", strings.Join(got, "\n\t"), strings.Join(want, "\n\t"))
	}
}

func bubble(t *testing.T, name string, f func(t *testing.T)) {
	t.Run(name, func(t *testing.T) { synctest.Test(t, f) })
}
