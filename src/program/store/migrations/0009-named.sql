-- Whether a value was named or left to the plan: told by a row too, so that it is exported, read in again and shown. Of
-- sessions in which no value was said nothing changes; the others are gone through again.
ALTER TABLE rep ADD COLUMN value_named INTEGER NOT NULL DEFAULT 0 CHECK (value_named IN (0, 1));
INSERT OR IGNORE INTO stale (session)
SELECT DISTINCT session FROM event WHERE kind IN ('tagged', 'edit') AND (body LIKE '%"value":%' OR body LIKE '%"rewarded":%');
