package hub

import (
	"context"
	"errors"
	"fmt"
	"time"

	"simmerline/rules"
)

// Why a request is refused, besides the reasons that rules gives.
var (
	ErrSessionOpen   = errors.New("a session is open already")
	ErrNoSessionOpen = errors.New("no session is open")
	ErrBadText       = errors.New("text can't be used")
)

// answerWithin is how long an answer waits for the disk.
const answerWithin = time.Second

// request is what somebody wants of the loop, and where its answer goes.
type request struct {
	do     func(l *loop) (answer, error)
	result chan result
}

type answer struct {
	alarm   rules.AlarmView
	session Session
	watcher *Watcher
	lacks   uint64 // announcements that the watcher wants and memory does not hold
	receipt *receipt
}

type result struct {
	answer answer
	err    error
}

// ask hands a request to the loop and waits for its answer.
func (h *Hub) ask(ctx context.Context, do func(l *loop) (answer, error)) (answer, error) {
	r := request{do: do, result: make(chan result, 1)}
	select {
	case h.requests <- r:
	case <-h.done:
		return answer{}, ErrStopping
	case <-ctx.Done():
		return answer{}, ctx.Err()
	}
	select {
	case got := <-r.result:
		return got.answer, got.err
	case <-h.done:
	}
	select {
	case got := <-r.result: // done, and then the hub stopped
		return got.answer, got.err
	default:
		return answer{}, ErrStopping
	}
}

// wait gives the disk up to a second and says how safe the matter is by then.
func (r *receipt) wait(ctx context.Context) Recorded {
	if r.passing {
		return RecordedNo
	}
	timer := time.NewTimer(answerWithin)
	defer timer.Stop()
	select {
	case <-r.synced:
		return RecordedSynced
	case <-timer.C:
	case <-ctx.Done():
	}
	select {
	case <-r.written:
		return RecordedWritten
	default:
		return RecordedNo
	}
}

// Acknowledge silences an alarm at once, and tells who did. Its error wraps
// rules.ErrNoSuchAlarm, rules.ErrNotNow or rules.ErrNoName.
func (h *Hub) Acknowledge(ctx context.Context, alarm, by, why string) (rules.AlarmView, Recorded, error) {
	return h.command(ctx, rules.Command{Kind: rules.Acknowledge, Alarm: alarm, By: by, Why: why})
}

// Reset ends a latched alarm whose condition has cleared.
func (h *Hub) Reset(ctx context.Context, alarm, by, why string) (rules.AlarmView, Recorded, error) {
	return h.command(ctx, rules.Command{Kind: rules.Reset, Alarm: alarm, By: by, Why: why})
}

// PutAway suppresses by design what is of no matter on a cold bench. It is
// refused while a bath is warm, or its temperature is not known and why holds
// nobody's word for it.
func (h *Hub) PutAway(ctx context.Context, by, why string) (Recorded, error) {
	_, recorded, err := h.command(ctx, rules.Command{Kind: rules.PutAway, By: by, Why: why})
	return recorded, err
}

// TakeIntoUse ends PutAway.
func (h *Hub) TakeIntoUse(ctx context.Context, by string) (Recorded, error) {
	_, recorded, err := h.command(ctx, rules.Command{Kind: rules.TakeIntoUse, By: by})
	return recorded, err
}

func (h *Hub) command(ctx context.Context, c rules.Command) (rules.AlarmView, Recorded, error) {
	if err := errors.Join(goodText("who asks", c.By), goodText("the word on why", c.Why)); err != nil {
		return rules.AlarmView{}, RecordedNo, err
	}
	if !Shows(c.By) {
		c.By = "" // which rules refuses
	}
	got, err := h.ask(ctx, func(l *loop) (answer, error) { return l.command(c) })
	if err != nil {
		return rules.AlarmView{}, RecordedNo, err
	}
	return got.alarm, got.receipt.wait(ctx), nil
}

// StartSession opens a session that began the given time ago. It is refused
// with ErrSessionOpen while another is open.
func (h *Hub) StartSession(ctx context.Context, name string, since time.Duration, by string) (Session, Recorded, error) {
	if err := errors.Join(goodText("the session's name", name), needText("who starts it", by)); err != nil {
		return Session{}, RecordedNo, err
	}
	if since < 0 || since > 24*time.Hour {
		return Session{}, RecordedNo, fmt.Errorf("hub: %w: a session can begin from now back to 24 hours ago, not %s ago", ErrBadText, since)
	}
	got, err := h.ask(ctx, func(l *loop) (answer, error) { return l.startSession(name, since, by) })
	if err != nil {
		return Session{}, RecordedNo, err
	}
	return got.session, got.receipt.wait(ctx), nil
}

// EndSession ends the open session now.
func (h *Hub) EndSession(ctx context.Context, by string) (Session, Recorded, error) {
	if err := needText("who ends it", by); err != nil {
		return Session{}, RecordedNo, err
	}
	got, err := h.ask(ctx, func(l *loop) (answer, error) { return l.endSession(by) })
	if err != nil {
		return Session{}, RecordedNo, err
	}
	return got.session, got.receipt.wait(ctx), nil
}

// Mark notes something at this moment, in the open session or outside any.
func (h *Hub) Mark(ctx context.Context, text, by string) (Recorded, error) {
	if err := errors.Join(needText("the mark", text), goodText("who marks", by)); err != nil {
		return RecordedNo, err
	}
	got, err := h.ask(ctx, func(l *loop) (answer, error) { return l.mark(text, by) })
	if err != nil {
		return RecordedNo, err
	}
	return got.receipt.wait(ctx), nil
}

// leave gives up a client's place; it does nothing once the loop has ended.
func (h *Hub) leave(w *Watcher) {
	_, _ = h.ask(context.Background(), func(l *loop) (answer, error) { return l.unwatch(w) })
}
