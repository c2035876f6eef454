-- The log: who, by which plan, when, and every event in the order in which it was acknowledged.
-- Files here are never edited once they have landed; a change is a new file.
-- Times ending in _us are microseconds since 1970-01-01 UTC; times ending in _ns are nanoseconds since
-- the first sample of the session's sound.

PRAGMA application_id = 0x48755461; -- 'HuTa'

CREATE TABLE animal (
    no INTEGER PRIMARY KEY,
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    name TEXT NOT NULL CHECK (name <> ''),
    species TEXT NOT NULL,
    note TEXT
) STRICT;

-- Every name an animal ever had, so that old notes still find it.
CREATE TABLE animal_name (
    animal INTEGER NOT NULL REFERENCES animal (no),
    name TEXT NOT NULL COLLATE NOCASE CHECK (name <> ''),
    since_us INTEGER NOT NULL,
    PRIMARY KEY (animal, name)
) STRICT, WITHOUT ROWID;
CREATE INDEX animal_by_name ON animal_name (name); -- an animal is asked for by name

-- The plan as it read when a session began. A session is gone through again by this text.
CREATE TABLE plan_version (
    no INTEGER PRIMARY KEY,
    animal INTEGER NOT NULL REFERENCES animal (no),
    behaviour TEXT NOT NULL CHECK (behaviour <> ''),
    file TEXT NOT NULL,
    text TEXT NOT NULL,
    sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
    first_used_us INTEGER NOT NULL,
    UNIQUE (animal, sha256)
) STRICT;

CREATE TABLE session (
    no INTEGER PRIMARY KEY,
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    animal INTEGER NOT NULL REFERENCES animal (no),
    plan INTEGER NOT NULL REFERENCES plan_version (no),
    behaviour TEXT NOT NULL CHECK (behaviour <> ''),
    start_step INTEGER NOT NULL CHECK (start_step BETWEEN 1 AND 255),
    person TEXT,
    place TEXT,
    began_us INTEGER NOT NULL,
    zone TEXT NOT NULL,          -- name of the time zone the session was in
    offset_s INTEGER NOT NULL,   -- seconds east of UTC at the begin
    day TEXT NOT NULL,           -- local date of the begin, YYYY-MM-DD; sessions across midnight keep it
    source TEXT NOT NULL CHECK (source IN ('live', 'recording', 'film', 'import', 'simulated')),
    source_name TEXT,            -- the file, when there was one
    made_by TEXT NOT NULL        -- program version
) STRICT;
CREATE INDEX session_by_animal ON session (animal, behaviour, began_us); -- history of one behaviour
CREATE INDEX session_by_time ON session (began_us); -- calendar, latest sessions
CREATE INDEX session_by_day ON session (day); -- calendar and forgetting days

CREATE TABLE event (
    session INTEGER NOT NULL REFERENCES session (no),
    ordinal INTEGER NOT NULL CHECK (ordinal >= 0),
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 16), -- corrections name their target by it
    at_ns INTEGER NOT NULL CHECK (at_ns >= 0),
    utc_us INTEGER NOT NULL,
    kind TEXT NOT NULL,
    body TEXT NOT NULL CHECK (json_valid(body)),
    PRIMARY KEY (session, ordinal)
) STRICT, WITHOUT ROWID;
-- Unfinished sessions are looked for at every start.
CREATE INDEX event_finished ON event (session) WHERE kind = 'finished';

-- Notes, weights and captured behaviour: what is worth keeping outside sessions.
CREATE TABLE journal (
    ordinal INTEGER PRIMARY KEY,
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    animal INTEGER REFERENCES animal (no), -- NULL when it is about no animal in particular
    utc_us INTEGER NOT NULL,
    zone TEXT NOT NULL,
    offset_s INTEGER NOT NULL,
    day TEXT NOT NULL,
    person TEXT,
    place TEXT,
    kind TEXT NOT NULL,
    body TEXT NOT NULL CHECK (json_valid(body))
) STRICT;
CREATE INDEX journal_by_animal ON journal (animal, kind, utc_us); -- weights over time
CREATE INDEX journal_by_day ON journal (day); -- calendar and forgetting days

-- Holds a row only inside the transaction that forgets for good; without it nothing can be removed.
CREATE TABLE forgetting (what TEXT NOT NULL) STRICT;

CREATE TRIGGER event_is_kept BEFORE DELETE ON event WHEN NOT EXISTS (SELECT 1 FROM forgetting)
BEGIN SELECT RAISE(ABORT, 'events are never deleted'); END;
CREATE TRIGGER event_is_fixed BEFORE UPDATE ON event WHEN NOT EXISTS (SELECT 1 FROM forgetting)
BEGIN SELECT RAISE(ABORT, 'events are never changed'); END;
CREATE TRIGGER journal_is_kept BEFORE DELETE ON journal WHEN NOT EXISTS (SELECT 1 FROM forgetting)
BEGIN SELECT RAISE(ABORT, 'journal entries are never deleted'); END;
CREATE TRIGGER journal_is_fixed BEFORE UPDATE ON journal WHEN NOT EXISTS (SELECT 1 FROM forgetting)
BEGIN SELECT RAISE(ABORT, 'journal entries are never changed'); END;
CREATE TRIGGER session_is_kept BEFORE DELETE ON session WHEN NOT EXISTS (SELECT 1 FROM forgetting)
BEGIN SELECT RAISE(ABORT, 'sessions are never deleted'); END;
CREATE TRIGGER session_is_fixed BEFORE UPDATE ON session WHEN NOT EXISTS (SELECT 1 FROM forgetting)
BEGIN SELECT RAISE(ABORT, 'sessions are never changed'); END;
CREATE TRIGGER plan_version_is_kept BEFORE DELETE ON plan_version WHEN NOT EXISTS (SELECT 1 FROM forgetting)
BEGIN SELECT RAISE(ABORT, 'plan versions are never deleted'); END;
CREATE TRIGGER plan_version_is_fixed BEFORE UPDATE ON plan_version WHEN NOT EXISTS (SELECT 1 FROM forgetting)
BEGIN SELECT RAISE(ABORT, 'plan versions are never changed'); END;
