-- One owner a session. A program that takes a session up counts `turn` on, and writes to the session only while that
-- number still stands; so whoever was passed over is refused, whatever became of the lock that tells who is still there.
CREATE TABLE owner (
    session INTEGER PRIMARY KEY REFERENCES session (no) ON DELETE CASCADE,
    turn INTEGER NOT NULL
) STRICT;

-- What stands behind an end belongs to no session. Corrections and notes are made after the fact.
CREATE TRIGGER event_before_end BEFORE INSERT ON event
WHEN new.kind NOT IN ('edit', 'noted')
    AND EXISTS (SELECT 1 FROM event INDEXED BY event_finished WHERE session = new.session AND kind = 'finished')
BEGIN SELECT RAISE(ABORT, 'the session has ended'); END;

-- Earlier programs let two write to one session, and what one wrote behind the end of the other was shown by no view.
-- Now it is: such sessions are gone through again.
INSERT OR IGNORE INTO stale (session)
SELECT e.session FROM event e
JOIN (SELECT session, min(ordinal) AS ordinal FROM event WHERE kind = 'finished' GROUP BY session) ended
    ON ended.session = e.session AND e.ordinal > ended.ordinal
WHERE e.kind NOT IN ('edit', 'noted');
