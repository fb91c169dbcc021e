-- A file somebody brings from elsewhere: kept from the upload until it is brought in or thrown away.
CREATE TABLE import (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    file_name TEXT NOT NULL,
    -- the rows as CSV with commas, whatever they came as; emptied once brought in
    content TEXT NOT NULL,
    -- per column what it holds; JSON
    columns TEXT NOT NULL CHECK (json_valid(columns)),
    -- what a dry run or the run found; JSON
    outcome TEXT CHECK (outcome IS NULL OR json_valid(outcome)),
    state TEXT NOT NULL CHECK (state IN ('read', 'tried', 'done')),
    made_at INTEGER NOT NULL,
    staff_id BLOB NOT NULL REFERENCES staff (id),
    form_key TEXT NOT NULL UNIQUE
) STRICT;
CREATE INDEX import_made ON import (made_at);
