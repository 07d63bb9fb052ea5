package grpcapi

import (
	"context"
	"time"

	"simmerline/hub"
	"simmerline/rules"
)

// Hub is what is served: *hub.Hub, by way of Of.
type Hub interface {
	// Snapshot is the newest published state; nil before the first.
	Snapshot() *hub.Snapshot
	// Alive says whether the hub's loop turns.
	Alive() bool
	Watch(ctx context.Context, o hub.WatchOptions) (Watcher, error)
	Acknowledge(ctx context.Context, alarm, by, why string) (rules.AlarmView, hub.Recorded, error)
	Reset(ctx context.Context, alarm, by, why string) (rules.AlarmView, hub.Recorded, error)
	PutAway(ctx context.Context, by string) (hub.Recorded, error)
	TakeIntoUse(ctx context.Context, by string) (hub.Recorded, error)
	StartSession(ctx context.Context, name string, since time.Duration, by string) (hub.Session, hub.Recorded, error)
	EndSession(ctx context.Context, by string) (hub.Session, hub.Recorded, error)
	Mark(ctx context.Context, text, by string) (hub.Recorded, error)
	// Sessions lists every session of the record, the newest first.
	Sessions(ctx context.Context) ([]hub.Session, error)
}

// Watcher is one client's place at the hub: *hub.Watcher.
type Watcher interface {
	Next(ctx context.Context) (hub.Update, error)
	Close()
}

// Of gives a hub as this package serves it.
func Of(h *hub.Hub) Hub { return running{h} }

// running is a *hub.Hub whose watchers are Watchers.
type running struct{ *hub.Hub }

func (r running) Watch(ctx context.Context, o hub.WatchOptions) (Watcher, error) {
	w, err := r.Hub.Watch(ctx, o)
	if err != nil {
		return nil, err
	}
	return w, nil
}

func (r running) Sessions(ctx context.Context) ([]hub.Session, error) {
	timeline, err := r.Record().Timeline(ctx)
	if err != nil {
		return nil, err
	}
	kept, err := r.Record().Sessions(ctx)
	if err != nil {
		return nil, err
	}
	sessions := make([]hub.Session, 0, len(kept))
	for _, k := range kept {
		s := hub.Session{Session: k}
		s.StartWall, _ = timeline.Wall(k.Start)
		if !k.Open() {
			s.EndWall, _ = timeline.Wall(k.End)
		}
		sessions = append(sessions, s)
	}
	return sessions, nil
}
