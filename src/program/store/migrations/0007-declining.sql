-- When the animal began to decline, by the alarm that stood at the session's end: what came after it says nothing of a
-- step. And a usual latency needs three. Every session is gone through again for both.
ALTER TABLE session_summary ADD COLUMN declining_ns INTEGER;
INSERT OR IGNORE INTO stale (session) SELECT no FROM session;
