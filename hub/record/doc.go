// Package record keeps everything that happens at a bench in one SQLite
// database, all the time. A session is only a named interval over it.
//
// # Promises
//
//  1. Nothing that hands something over waits: AddReadings and Add put it in a
//     queue, and one goroutine owns the one connection that writes.
//  2. What was handed over is committed in its order. After a crash the record
//     is a beginning of what was handed over, with no hole but noted gaps.
//  3. An entry is committed at once, together with all that waits before it.
//     written is called when the end of the process can't undo it, synced when
//     a power cut can't either.
//  4. Readings are committed each second while a bath is hot, every five
//     seconds otherwise.
//  5. When the queue is full readings are lost first, counted, and noted as a
//     gap at their place; entries have room of their own. When the disk is
//     nearly full only entries are kept.
//  6. While the disk fails, what is queued is tried again each second and
//     Health says so. Nothing is deleted to recover.
//  7. A damaged file is set aside whole, never overwritten.
//
// # Time
//
// A moment is (run, offset): the number of the hub's run, and nanoseconds on
// that run's monotonic clock. Nothing is ordered by the wall clock. Timeline
// maps moments to wall time for people, from runs and clock_notes.
//
// # Tables
//
// schema/0001.sql is the schema. A later version adds a numbered step and never
// changes an old one; a record is brought forward when a hub opens it. The
// version is PRAGMA user_version, and PRAGMA application_id is "SIML".
//
//   - benches: the text of each bench file that was used, once each by its
//     SHA-256.
//   - runs: one row for each run of the hub: the wall clock at offset 0, the
//     bench text, the hub's version, the offset of the last thing written, and
//     the offset of its end when it ended as it should (NULL otherwise).
//   - clock_notes: what the wall clock showed at an offset where it no longer
//     follows from before: it was set ('stepped'), or the machine was suspended
//     ('slept').
//   - gaps: stretches of a run in which rows were lost, why, and how many.
//   - channels: the names of channels, so that readings hold only a number.
//   - readings: every reading. Its key is (run, at, channel, twin): rows lie in
//     the order of time, and twin, nearly always 0, tells two readings of one
//     channel at one offset apart. value is NULL when nothing is known, and
//     quantity says what it measures (the numbers of sensors.Quantity); raw is
//     what the device sent, NULL for no number; quality and reason are the
//     numbers of the sensors package; test is 1 for rows made under test.
//   - events: the life of alarms, numbered from 1 with no hole over all runs.
//     States and causes are words, so that the file explains itself.
//   - sessions: named intervals: start and end as (run, offset), how and by
//     whom; no end while open. kept: retention never deletes it.
//   - marks: notes at a moment, in a session or in none.
//   - states: the rules' own state as JSON, the newest of each run, so that
//     alarms survive a restart.
//   - port_notes: changes of state of the ports, in words.
//   - synced: one row: the newest event that was made to outlast a power cut.
//
// # How it is written
//
// Write-ahead log; synchronous NORMAL, so that a commit is only a write; then
// one tiny commit with synchronous FULL, which syncs the log up to there (see
// writer.sync). Checkpoints are made apart from commits. Two connections read.
//
// # Choice of library
//
// github.com/ncruces/go-sqlite3 rather than modernc.org/sqlite, measured with
// the same program on both: a quarter less resident memory, reading faster by
// half, writing alike, and a file layer that is a Go interface, so that the
// tests can stop the world at every write. Its binaries are larger by one to
// three megabytes. DEVELOPERS.md has the figures.
//
// The package may import sensors, the standard library, golang.org/x/sys and
// the SQLite library; only the rest of hub and cmd import it.
package record
