-- What a session was told of the animal's past when it began, so that it is gone through again as it was, whatever
-- became of the earlier sessions or of the program since. Sessions without a row in `told` knew nothing.

-- An earlier session in numbers, as later ones were told of it; each text once. Numbers only: no names, no dates.
CREATE TABLE past (
    no INTEGER PRIMARY KEY,
    origin INTEGER REFERENCES session (no), -- the session that it tells of; NULL when it came from a file
    sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
    body TEXT NOT NULL CHECK (json_valid(body))
) STRICT;
CREATE INDEX past_by_sum ON past (sha256); -- looked for whenever a session begins
CREATE INDEX past_by_origin ON past (origin); -- for forgetting

-- What else the session was told.
CREATE TABLE told (
    session INTEGER PRIMARY KEY REFERENCES session (no),
    forgotten INTEGER NOT NULL DEFAULT 0 CHECK (forgotten >= 0), -- earlier sessions that it was told of and that were forgotten
    body TEXT NOT NULL CHECK (json_valid(body))
) STRICT;

-- Which earlier sessions it was told of, oldest first.
CREATE TABLE told_of (
    session INTEGER NOT NULL REFERENCES told (session),
    place INTEGER NOT NULL CHECK (place >= 0),
    past INTEGER NOT NULL REFERENCES past (no),
    PRIMARY KEY (session, place)
) STRICT, WITHOUT ROWID;
CREATE INDEX told_of_by_past ON told_of (past); -- for forgetting

-- The most important nudge of a session is one that was given, and not what a program would give that goes through it
-- again: in earlier notes none was. That it ended at a high point is less important than that it was to end soon.
UPDATE session_summary SET main_nudge = NULL WHERE session IN (SELECT no FROM session WHERE source = 'import');
UPDATE session_summary SET main_nudge = 'end_soon' WHERE main_nudge = 'high_point' AND EXISTS (
    SELECT 1 FROM mark m WHERE m.session = session_summary.session AND m.kind = 'nudge' AND m.name = 'end_soon');

CREATE TRIGGER past_is_kept BEFORE DELETE ON past WHEN NOT EXISTS (SELECT 1 FROM forgetting)
BEGIN SELECT RAISE(ABORT, 'what a session was told is never deleted'); END;
CREATE TRIGGER past_is_fixed BEFORE UPDATE ON past WHEN NOT EXISTS (SELECT 1 FROM forgetting)
BEGIN SELECT RAISE(ABORT, 'what a session was told is never changed'); END;
CREATE TRIGGER told_is_kept BEFORE DELETE ON told WHEN NOT EXISTS (SELECT 1 FROM forgetting)
BEGIN SELECT RAISE(ABORT, 'what a session was told is never deleted'); END;
CREATE TRIGGER told_is_fixed BEFORE UPDATE ON told WHEN NOT EXISTS (SELECT 1 FROM forgetting)
BEGIN SELECT RAISE(ABORT, 'what a session was told is never changed'); END;
CREATE TRIGGER told_of_is_kept BEFORE DELETE ON told_of WHEN NOT EXISTS (SELECT 1 FROM forgetting)
BEGIN SELECT RAISE(ABORT, 'what a session was told is never deleted'); END;
CREATE TRIGGER told_of_is_fixed BEFORE UPDATE ON told_of WHEN NOT EXISTS (SELECT 1 FROM forgetting)
BEGIN SELECT RAISE(ABORT, 'what a session was told is never changed'); END;
