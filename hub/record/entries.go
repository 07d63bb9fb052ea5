package record

import (
	"context"
	"math"
)

func (m Moment) moment() Moment { return m }

func (e SessionEnd) moment() Moment { return e.End }

func (g *Gap) moment() Moment { return Moment{g.Run, g.Until} }

func (e *Event) insert(w *writer) error {
	e.Run = w.run
	return w.exec(`INSERT INTO events VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)`,
		e.Sequence, e.Run, e.At, e.Alarm, e.From, e.To, e.Cause, e.Priority, e.Class,
		e.Subject, e.Channel, e.Number, e.Unit, e.Value, e.Sentence, e.By, e.Why)
}

// sessionStart is a session as it is opened.
type sessionStart struct{ Session }

func (s *sessionStart) moment() Moment { return s.Start }

func (s *sessionStart) insert(w *writer) error {
	return w.exec(`INSERT INTO sessions (session, name, start_run, start_at, started_how, started_by, kept)
		VALUES (?,?,?,?,?,?,?)`,
		s.ID, s.Name, s.Start.Run, s.Start.At, string(s.StartedHow), s.StartedBy, s.Kept)
}

func (e *SessionEnd) insert(w *writer) error {
	err := w.exec(`UPDATE sessions SET end_run = ?, end_at = ?, ended_how = ?, ended_by = ?
		WHERE session = ? AND end_run IS NULL`,
		e.End.Run, e.End.At, string(e.How), e.By, e.ID)
	if err == nil && w.Changes() == 0 {
		return refused("session %d is not open", e.ID)
	}
	return err
}

func (m *Mark) insert(w *writer) error {
	m.Run = w.run
	var session any
	if m.Session != 0 {
		session = m.Session
	}
	return w.exec(`INSERT INTO marks VALUES (?,?,?,?,?,?)`, m.ID, session, m.Run, m.At, m.Text, m.By)
}

func (n *ClockNote) insert(w *writer) error {
	n.Run = w.run
	return w.exec(`INSERT INTO clock_notes (run, at, kind, wall, detail) VALUES (?,?,?,?,?)`,
		n.Run, n.At, string(n.Kind), n.Wall.UnixNano(), n.Detail)
}

func (n *PortNote) insert(w *writer) error {
	n.Run = w.run
	return w.exec(`INSERT INTO port_notes (run, at, port, state, device, detail) VALUES (?,?,?,?,?,?)`,
		n.Run, n.At, n.Port, n.State, n.Device, n.Detail)
}

func (s *State) insert(w *writer) error {
	s.Run = w.run
	return w.exec(`INSERT INTO states VALUES (?,?,?)
		ON CONFLICT (run) DO UPDATE SET at = excluded.at, json = excluded.json`,
		s.Run, s.At, string(s.JSON))
}

func (g *Gap) insert(w *writer) error {
	g.Run = w.run
	return w.exec(`INSERT INTO gaps (run, from_at, until_at, kind, readings, events) VALUES (?,?,?,?,?,?)`,
		g.Run, g.From, g.Until, string(g.Kind), g.Readings, g.Events)
}

// runEnd marks the end of a run that ended as it should.
type runEnd struct{ Moment }

func (e *runEnd) insert(w *writer) error {
	return w.exec(`UPDATE runs SET ended_at = ? WHERE run = ?`, e.At, w.run)
}

// insertReading keeps one reading. twin tells readings of one channel and
// offset apart; it is nearly always 0, which takes no room.
func (w *writer) insertReading(r *Reading) error {
	id, err := w.channel(r.Channel)
	if err != nil {
		return err
	}
	last, seen := w.newest[id]
	twin := int64(0)
	if seen && r.At <= last {
		w.twins++
		twin = w.twins
	} else {
		w.newest[id] = r.At
	}
	stmt, err := w.prepared(`INSERT INTO readings VALUES (?,?,?,?,?,?,?,?,?,?)`)
	if err != nil {
		return err
	}
	value := math.NaN()
	if r.Value.Known() {
		value = r.Value.Number()
	}
	for _, err := range []error{
		stmt.BindInt64(1, w.run),
		stmt.BindInt64(2, int64(r.At)),
		stmt.BindInt64(3, id),
		stmt.BindInt64(4, twin),
		stmt.BindInt64(5, int64(r.Value.Quantity())),
		stmt.BindFloat(6, value),
		stmt.BindFloat(7, r.Raw),
		stmt.BindInt64(8, int64(r.Quality)),
		stmt.BindInt64(9, int64(r.Reason)),
		stmt.BindBool(10, r.Test),
	} {
		if err != nil {
			return err
		}
	}
	return stmt.Exec()
}

// channel gives the number that a channel's name is kept under.
func (w *writer) channel(name string) (int64, error) {
	if id, ok := w.channels[name]; ok {
		return id, nil
	}
	id, err := w.number(context.Background(), `SELECT channel FROM channels WHERE name = ?`, name)
	if err == nil && id == 0 {
		err = w.exec(`INSERT INTO channels (name) VALUES (?)`, name)
		id = w.LastInsertRowID()
	}
	if err != nil {
		return 0, err
	}
	w.channels[name] = id
	return id, nil
}
