-- What the bench is reading at this moment, value by value, before somebody says: that is the set.

-- One act of measuring under way: it follows a job's newest set. Once a newer set stands, it is history.
CREATE TABLE reading_draft (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    job_id BLOB NOT NULL REFERENCES job (id),
    -- the set it follows; none before the first
    after_set_id BLOB REFERENCES reading_set (id),
    -- the plan's keys of the steps done since that set: what they made stale is read again
    done_steps TEXT NOT NULL CHECK (json_valid(done_steps)),
    opened_at INTEGER NOT NULL,
    staff_id BLOB NOT NULL REFERENCES staff (id)
) STRICT;
-- NULLs are never equal to each other, so the first draft of a job needs a value of its own
CREATE UNIQUE INDEX reading_draft_follows ON reading_draft (job_id, coalesce(after_set_id, x''));

-- What was typed into a cell, in the order it reached the books. The last one undisputed stands.
CREATE TABLE reading_entry (
    id INTEGER PRIMARY KEY,
    draft_id BLOB NOT NULL REFERENCES reading_draft (id),
    -- the field of the grid: height-12_3, relief_0, tool
    cell TEXT NOT NULL CHECK (length(cell) BETWEEN 1 AND 40),
    -- empty: rubbed out
    typed TEXT NOT NULL CHECK (length(typed) <= 400),
    -- questioned as impossible, read again and meant
    is_sure INTEGER NOT NULL CHECK (is_sure IN (0, 1)),
    -- made by the tablet when the value was typed: a value sent twice is there once
    entry_key TEXT NOT NULL UNIQUE CHECK (length(entry_key) BETWEEN 1 AND 80),
    -- the entry the person saw in the cell; '' for an empty cell
    replaces TEXT NOT NULL,
    -- disputed entries of this cell up to this one are settled by it
    settles INTEGER NOT NULL,
    -- it met an entry its writer had not seen, or came after the set was taken: kept, and asked about
    is_disputed INTEGER NOT NULL CHECK (is_disputed IN (0, 1)),
    staff_id BLOB NOT NULL REFERENCES staff (id),
    entered_at INTEGER NOT NULL
) STRICT;
CREATE INDEX reading_entry_draft ON reading_entry (draft_id, cell, id);
CREATE TRIGGER reading_entry_is_never_changed BEFORE UPDATE ON reading_entry
BEGIN
    SELECT RAISE(ABORT, 'entries are only added');
END;
CREATE TRIGGER reading_entry_is_never_deleted BEFORE DELETE ON reading_entry
BEGIN
    SELECT RAISE(ABORT, 'entries are only added');
END;

-- How a person likes to travel over the grid, and the unit their calliper is set to.
CREATE TABLE bench_habit (
    staff_id BLOB PRIMARY KEY NOT NULL REFERENCES staff (id),
    travel TEXT NOT NULL CHECK (travel IN ('by-string', 'by-place')),
    unit TEXT NOT NULL CHECK (unit IN ('mm', 'inch', '64ths'))
) STRICT;
