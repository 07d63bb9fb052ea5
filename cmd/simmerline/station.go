package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"sync"
	"time"

	"simmerline/hub"
	"simmerline/hub/bench"
	"simmerline/hub/grpcapi"
	"simmerline/hub/notify"
	"simmerline/hub/record"
	"simmerline/sensors"
	"simmerline/sensors/clock"
	"simmerline/sensors/poll"
)

// closeWithin is how long the record may take to close.
const closeWithin = 5 * time.Second

// station is a hub with all that makes it run: ports read, alarms sounded, a
// record kept, clients served. serve and demo differ in what they put into it.
type station struct {
	bench    *bench.Bench
	clock    clock.Clock
	data     string // the record's folder
	listener net.Listener
	player   string // how it sounds, in the words of notify.Config
	log      *slog.Logger
	earlier  *hub.Earlier
	// open finds and opens a port of the bench file.
	open func(sensors.PortConfig) (poll.Port, string, error)
	// present says whether the system still knows a device node; nil for none.
	present func(string) bool
	intakes map[string]*sensors.Intake // from the earlier minutes; nil for none
	// ready is called once everything runs.
	ready func(*hub.Hub)
}

// run runs the station until ctx ends, and leaves everything in order. Where
// ctx ended because of hub.ErrPowerCut, it leaves things as a power cut would.
func (s *station) run(ctx context.Context) (err error) {
	sounder, err := notify.New(notify.Config{Player: s.player}, notify.Hooks{})
	if err != nil {
		return err
	}
	h, err := s.hub(ctx, sounder)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, closeRecord(h.Record())) }()
	server, err := grpcapi.New(grpcapi.Options{Hub: grpcapi.Of(h), Bench: s.bench, Log: s.log})
	if err != nil {
		return err
	}
	return s.runParts(ctx, h, sounder, server)
}

// hub makes the hub over its record. A folder that can't be used stops no
// alarm: the hub then runs over a record in a passing folder, and raises it.
// Only a record that another hub writes to is refused.
func (s *station) hub(ctx context.Context, sounder *notify.Sounder) (*hub.Hub, error) {
	h, err := s.hubOver(ctx, sounder, s.data, "")
	if err == nil || errors.Is(err, record.ErrInUse) || ctx.Err() != nil {
		return h, err
	}
	passing, tempErr := os.MkdirTemp("", "simmerline-record-")
	if tempErr != nil {
		return nil, errors.Join(err, tempErr)
	}
	s.log.Error("the record can't be kept where it should; alarms go on", "folder", s.data, "error", err, "kept in", passing)
	h, again := s.hubOver(ctx, sounder, passing, fmt.Sprintf("its folder can't be used: %v", err))
	if again != nil {
		return nil, err
	}
	return h, nil
}

func (s *station) hubOver(ctx context.Context, sounder *notify.Sounder, folder, fails string) (*hub.Hub, error) {
	rec, err := record.Open(folder, record.Options{OnHealth: func(h record.Health) {
		// What to do about it is for the alarm to say, which knows of the fumes.
		if h.String() != "" {
			s.log.Error("the record is not kept as it should be; alarms go on",
				"failing", h.Err, "storage full", h.StorageFull, "refused", h.Refusal)
		}
	}})
	if err != nil {
		return nil, err
	}
	if aside := rec.SetAside(); aside != "" {
		s.log.Error("the record was damaged; a new one has begun, and the old one is kept", "old", aside)
	}
	h, err := hub.New(ctx, hub.Options{
		Bench: s.bench, Clock: s.clock, Record: rec, RecordFails: fails, Sounder: sounder, Log: s.log,
		Software: version(), Earlier: s.earlier,
	})
	if err != nil {
		return nil, errors.Join(err, closeRecord(rec))
	}
	return h, nil
}

func closeRecord(rec *record.Record) error {
	ctx, cancel := context.WithTimeout(context.Background(), closeWithin)
	defer cancel()
	return rec.Close(ctx)
}

// runParts runs every goroutine and waits for all of them. The sounder is the
// first to start and the last to stop, and the server stops before the hub, so
// that clients are told.
func (s *station) runParts(ctx context.Context, h *hub.Hub, sounder *notify.Sounder, server *grpcapi.Server) error {
	polls, err := s.polls(h)
	if err != nil {
		return err
	}
	var sound, loop, ports sync.WaitGroup
	soundCtx, stopSound := context.WithCancel(context.WithoutCancel(ctx))
	defer sound.Wait()
	defer stopSound()
	sound.Go(func() { sounder.Run(soundCtx) })

	loopCtx, stopLoop := context.WithCancelCause(context.WithoutCancel(ctx))
	defer loop.Wait()
	defer func() { stopLoop(context.Cause(ctx)) }()
	loop.Go(func() { h.Run(loopCtx) })

	portCtx, stopPorts := context.WithCancel(context.WithoutCancel(ctx))
	defer ports.Wait()
	defer stopPorts()
	for _, p := range polls {
		ports.Go(func() {
			if err := poll.Run(portCtx, p); err != nil {
				s.log.Error("a port did not end well", "port", p.Config.Name, "error", err)
			}
		})
	}
	if s.ready != nil {
		s.ready(h)
	}
	return server.Serve(ctx, s.listener)
}

// polls says how each port of the bench is read.
func (s *station) polls(h *hub.Hub) ([]poll.Options, error) {
	var polls []poll.Options
	for _, p := range s.bench.Ports {
		driver, err := newDriver(p)
		if err != nil {
			return nil, err
		}
		polls = append(polls, poll.Options{
			Config: p, Driver: driver, Clock: s.clock, Deliver: h.Deliver, Present: s.present, Intakes: s.intakes,
			Open: func() (poll.Port, string, error) { return s.open(p) },
		})
	}
	return polls, nil
}

// listen takes an address for the API. Where any is right, a free port of this
// machine is taken if the address is in use.
func listen(address string, any bool) (net.Listener, error) {
	listener, err := net.Listen("tcp", address)
	if err == nil {
		return listener, nil
	}
	if any {
		if listener, err := net.Listen("tcp", "127.0.0.1:0"); err == nil {
			return listener, nil
		}
	}
	return nil, fmt.Errorf("can't listen on %s: %w; another hub may be running, or name another address with --listen", address, err)
}

// loopback refuses addresses that other machines could reach: what is said
// there would be neither protected nor paired.
func loopback(address string) error {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return wrongUse("--listen %s is no address: give host:port, as 127.0.0.1:7410", address)
	}
	if ip := net.ParseIP(host); host == "localhost" || ip != nil && ip.IsLoopback() {
		return nil
	}
	return wrongUse("--listen %s could be reached from other machines; this version serves only this machine: give 127.0.0.1 and a port", address)
}
