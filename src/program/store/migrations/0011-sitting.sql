-- Several sessions of one sitting, in turn: each but the first names the first. A session that stands alone names none, as
-- those do that were kept before.
ALTER TABLE session ADD COLUMN sitting BLOB CHECK (length(sitting) = 16);
CREATE INDEX session_by_sitting ON session (sitting) WHERE sitting IS NOT NULL;
