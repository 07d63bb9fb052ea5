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
	PutAway(ctx context.Context, by, why string) (hub.Recorded, error)
	TakeIntoUse(ctx context.Context, by string) (hub.Recorded, error)
	StartSession(ctx context.Context, name string, since time.Duration, by string) (hub.Session, hub.Recorded, error)
	EndSession(ctx context.Context, by string) (hub.Session, hub.Recorded, error)
	Mark(ctx context.Context, text, by string) (hub.Recorded, error)
	// Sessions lists every session of the record, the newest first.
	Sessions(ctx context.Context) ([]hub.Session, error)
	// Review looks back on a session: "latest", its number or its name.
	Review(ctx context.Context, session string) (hub.LookBack, error)
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
	return hub.Sessions(ctx, r.Record().Reader)
}

func (r running) Review(ctx context.Context, session string) (hub.LookBack, error) {
	return hub.Review(ctx, r.Record().Reader, session)
}
