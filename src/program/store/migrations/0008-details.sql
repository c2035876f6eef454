-- A detail belongs to the tag it was said with. Up to engine 2 what was said with a miss went to the try before it: such
-- sessions are gone through again.
INSERT OR IGNORE INTO stale (session)
SELECT DISTINCT session FROM event
WHERE kind = 'tagged' AND (body LIKE '%"kind":"detail"%' OR body LIKE '%"kind":"change"%');
