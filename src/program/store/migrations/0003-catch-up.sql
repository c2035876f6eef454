-- Sessions that were logged before there were tables of what follows from the log.
INSERT OR IGNORE INTO stale (session)
SELECT no FROM session WHERE no NOT IN (SELECT session FROM session_summary);
