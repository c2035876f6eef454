-- What follows from the log by going through it again. May be emptied and rebuilt at any time.

-- Sessions with events that the tables below do not know yet.
CREATE TABLE stale (session INTEGER PRIMARY KEY REFERENCES session (no)) STRICT;
CREATE TRIGGER session_is_new AFTER INSERT ON session
BEGIN INSERT OR IGNORE INTO stale (session) VALUES (new.no); END;
CREATE TRIGGER event_is_new AFTER INSERT ON event
BEGIN INSERT OR IGNORE INTO stale (session) VALUES (new.session); END;

CREATE TABLE rep (
    session INTEGER NOT NULL REFERENCES session (no),
    number INTEGER NOT NULL CHECK (number >= 1), -- in order of time
    at_ns INTEGER NOT NULL,
    active_ns INTEGER NOT NULL,                  -- since the begin, pauses left out
    working INTEGER NOT NULL,                    -- step worked on
    step INTEGER NOT NULL,                       -- step reached
    outcome TEXT NOT NULL CHECK (outcome IN ('low', 'high', 'jackpot', 'missed', 'hold_ran_out')),
    side TEXT CHECK (side IN ('left', 'right')),
    latency_ns INTEGER,
    duration_ns INTEGER,
    event BLOB CHECK (length(event) = 16),       -- the event or edit it came from
    edited INTEGER NOT NULL CHECK (edited IN (0, 1)),
    PRIMARY KEY (session, number)
) STRICT, WITHOUT ROWID;

-- Everything else that happened, on the same two clocks.
CREATE TABLE mark (
    session INTEGER NOT NULL REFERENCES session (no),
    number INTEGER NOT NULL CHECK (number >= 1),
    at_ns INTEGER NOT NULL,
    active_ns INTEGER NOT NULL,
    kind TEXT NOT NULL,
    name TEXT NOT NULL,
    event BLOB NOT NULL CHECK (length(event) = 16),
    PRIMARY KEY (session, number)
) STRICT, WITHOUT ROWID;

CREATE TABLE session_summary (
    session INTEGER PRIMARY KEY REFERENCES session (no),
    events INTEGER NOT NULL,           -- how many this was made from
    active_ns INTEGER NOT NULL,
    rewarded INTEGER NOT NULL,
    missed INTEGER NOT NULL,
    low INTEGER NOT NULL,
    high INTEGER NOT NULL,
    jackpot INTEGER NOT NULL,
    last_step INTEGER NOT NULL,        -- worked on at the end
    best_step INTEGER,
    latency_median_ns INTEGER,
    longest_hold_ns INTEGER,
    unsure INTEGER NOT NULL,
    edits INTEGER NOT NULL,
    main_nudge TEXT,
    ended_well INTEGER NOT NULL CHECK (ended_well IN (0, 1)),
    ended TEXT                         -- why; NULL while it is not finished
) STRICT;
