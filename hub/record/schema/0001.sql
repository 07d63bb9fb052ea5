-- The first schema of the record. Once a record has been made with it, this
-- file never changes: a later change is a step of its own, 0002.sql and so on.
-- Offsets are nanoseconds on the monotonic clock of their run; walls are
-- nanoseconds since 1970 UTC.

CREATE TABLE benches (
    bench  INTEGER PRIMARY KEY,
    sha256 BLOB NOT NULL UNIQUE CHECK (length(sha256) = 32),
    text   TEXT NOT NULL
) STRICT;

CREATE TABLE runs (
    run      INTEGER PRIMARY KEY,
    wall     INTEGER NOT NULL,
    bench    INTEGER NOT NULL REFERENCES benches,
    software TEXT NOT NULL,
    last_at  INTEGER NOT NULL DEFAULT 0 CHECK (last_at >= 0),
    ended_at INTEGER CHECK (ended_at >= 0)
) STRICT;

CREATE TABLE clock_notes (
    note   INTEGER PRIMARY KEY,
    run    INTEGER NOT NULL REFERENCES runs,
    at     INTEGER NOT NULL CHECK (at >= 0),
    kind   TEXT NOT NULL CHECK (kind IN ('stepped', 'slept')),
    wall   INTEGER NOT NULL,
    detail TEXT NOT NULL
) STRICT;

CREATE TABLE gaps (
    gap      INTEGER PRIMARY KEY,
    run      INTEGER NOT NULL REFERENCES runs,
    from_at  INTEGER NOT NULL CHECK (from_at >= 0),
    until_at INTEGER NOT NULL CHECK (until_at >= from_at),
    kind     TEXT NOT NULL CHECK (kind IN ('queue full', 'storage full')),
    readings INTEGER NOT NULL CHECK (readings >= 0),
    events   INTEGER NOT NULL CHECK (events >= 0)
) STRICT;

CREATE TABLE channels (
    channel INTEGER PRIMARY KEY,
    name    TEXT NOT NULL UNIQUE
) STRICT;

CREATE TABLE readings (
    run      INTEGER NOT NULL REFERENCES runs,
    at       INTEGER NOT NULL CHECK (at >= 0),
    channel  INTEGER NOT NULL REFERENCES channels,
    twin     INTEGER NOT NULL,
    quantity INTEGER NOT NULL,
    value    REAL,
    raw      REAL,
    quality  INTEGER NOT NULL CHECK (quality BETWEEN 0 AND 3),
    reason   INTEGER NOT NULL,
    test     INTEGER NOT NULL CHECK (test IN (0, 1)),
    PRIMARY KEY (run, at, channel, twin),
    CHECK ((value IS NULL) = (quantity = 0))
) STRICT, WITHOUT ROWID;

CREATE TABLE events (
    sequence   INTEGER PRIMARY KEY CHECK (sequence > 0),
    run        INTEGER NOT NULL REFERENCES runs,
    at         INTEGER NOT NULL CHECK (at >= 0),
    alarm      TEXT NOT NULL,
    from_state TEXT NOT NULL,
    to_state   TEXT NOT NULL,
    cause      TEXT NOT NULL,
    priority   INTEGER NOT NULL,
    class      INTEGER NOT NULL,
    subject    TEXT NOT NULL,
    channel    TEXT NOT NULL,
    number     REAL,
    unit       TEXT NOT NULL,
    value      TEXT NOT NULL,
    sentence   TEXT NOT NULL,
    by         TEXT NOT NULL,
    why        TEXT NOT NULL
) STRICT;
CREATE INDEX events_by_time ON events (run, at);

CREATE TABLE sessions (
    session     INTEGER PRIMARY KEY,
    name        TEXT NOT NULL,
    start_run   INTEGER NOT NULL REFERENCES runs,
    start_at    INTEGER NOT NULL CHECK (start_at >= 0),
    started_how TEXT NOT NULL CHECK (started_how IN ('by command', 'by itself')),
    started_by  TEXT NOT NULL,
    end_run     INTEGER REFERENCES runs,
    end_at      INTEGER CHECK (end_at >= 0),
    ended_how   TEXT CHECK (ended_how IN ('by command', 'by itself', 'by power loss')),
    ended_by    TEXT,
    kept        INTEGER NOT NULL CHECK (kept IN (0, 1)),
    CHECK ((end_run IS NULL) = (end_at IS NULL)),
    CHECK ((end_run IS NULL) = (ended_how IS NULL)),
    CHECK ((end_run IS NULL) = (ended_by IS NULL)),
    CHECK (end_run IS NULL OR (end_run, end_at) >= (start_run, start_at))
) STRICT;

CREATE TABLE marks (
    mark    INTEGER PRIMARY KEY,
    session INTEGER REFERENCES sessions,
    run     INTEGER NOT NULL REFERENCES runs,
    at      INTEGER NOT NULL CHECK (at >= 0),
    text    TEXT NOT NULL,
    by      TEXT NOT NULL
) STRICT;
CREATE INDEX marks_by_time ON marks (run, at);

CREATE TABLE states (
    run  INTEGER PRIMARY KEY REFERENCES runs,
    at   INTEGER NOT NULL CHECK (at >= 0),
    json TEXT NOT NULL CHECK (json_valid(json))
) STRICT;

CREATE TABLE port_notes (
    note   INTEGER PRIMARY KEY,
    run    INTEGER NOT NULL REFERENCES runs,
    at     INTEGER NOT NULL CHECK (at >= 0),
    port   TEXT NOT NULL,
    state  TEXT NOT NULL,
    device TEXT NOT NULL,
    detail TEXT NOT NULL
) STRICT;

CREATE TABLE synced (
    one      INTEGER PRIMARY KEY CHECK (one = 1),
    sequence INTEGER NOT NULL,
    times    INTEGER NOT NULL
) STRICT;
INSERT INTO synced VALUES (1, 0, 0);
