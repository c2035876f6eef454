-- When the animal declined is one answer: what was seen, given or held back, or the trainer's own word. Sessions in which
-- a word was said are gone through again for it.
INSERT OR IGNORE INTO stale (session) SELECT DISTINCT session FROM mark WHERE kind = 'mood';
