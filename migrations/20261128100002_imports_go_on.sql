-- A file is brought in some rows at a time, so that nobody waits for all of it, and goes on where it was when the
-- program ended in between. The row stands while it is brought in.
CREATE TABLE import_run (
    import_id BLOB PRIMARY KEY NOT NULL REFERENCES import (id),
    begun_at INTEGER NOT NULL,
    begun_by BLOB NOT NULL REFERENCES staff (id),
    -- rows from the top that are in the books or refused
    rows_done INTEGER NOT NULL DEFAULT 0 CHECK (rows_done >= 0),
    customers_added INTEGER NOT NULL DEFAULT 0,
    customers_known INTEGER NOT NULL DEFAULT 0,
    instruments_added INTEGER NOT NULL DEFAULT 0,
    instruments_known INTEGER NOT NULL DEFAULT 0
) STRICT;

-- files whose time may have come
CREATE INDEX import_kept ON import (made_at) WHERE emptied_at IS NULL;
