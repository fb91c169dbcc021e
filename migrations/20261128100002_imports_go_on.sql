-- A file is brought in some rows at a time, and goes on where it was when the program ended in between.
ALTER TABLE import ADD COLUMN begun_at INTEGER;
ALTER TABLE import ADD COLUMN begun_by BLOB REFERENCES staff (id);
-- rows from the top that are in the books or refused; `outcome` says what became of them
ALTER TABLE import ADD COLUMN rows_done INTEGER NOT NULL DEFAULT 0 CHECK (rows_done >= 0);
CREATE INDEX import_under_way ON import (begun_at) WHERE begun_at IS NOT NULL AND state <> 'done' AND emptied_at IS NULL;
CREATE INDEX import_kept ON import (made_at) WHERE emptied_at IS NULL;
