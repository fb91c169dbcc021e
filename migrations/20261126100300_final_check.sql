-- The list of the trade before *ready*: what the house looks at, and what was answered for each job.

CREATE TABLE check_item (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    position INTEGER NOT NULL CHECK (position >= 1),
    words TEXT NOT NULL CHECK (length(words) BETWEEN 1 AND 200),
    hint TEXT NOT NULL,
    -- null: for every instrument
    family TEXT CHECK (family IN ('steel-string', 'classical', 'electric', 'bass', 'ukulele', 'mandolin', 'banjo', 'other')),
    -- the final readings answer this one themselves, where all of them are proved
    by_readings INTEGER NOT NULL DEFAULT 0 CHECK (by_readings IN (0, 1)),
    -- an item that was answered is archived, never deleted
    archived INTEGER NOT NULL DEFAULT 0 CHECK (archived IN (0, 1)),
    form_key TEXT NOT NULL UNIQUE,
    version INTEGER NOT NULL DEFAULT 1
) STRICT;

-- Append-only: the newest answer of an item counts. `arrived_at` is the moment the job came to the final
-- check this time (job.stage_since): a job that comes back is checked afresh.
CREATE TABLE check_answer (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    job_id BLOB NOT NULL REFERENCES job (id),
    check_item_id BLOB NOT NULL REFERENCES check_item (id),
    arrived_at INTEGER NOT NULL,
    answer TEXT NOT NULL CHECK (answer IN ('yes', 'not-applicable', 'reason')),
    reason TEXT NOT NULL,
    staff_id BLOB NOT NULL REFERENCES staff (id),
    answered_at INTEGER NOT NULL,
    CHECK ((answer = 'reason') = (reason <> ''))
) STRICT;
CREATE INDEX check_answer_job ON check_answer (job_id, arrived_at, check_item_id, id);
CREATE TRIGGER check_answer_is_never_changed BEFORE UPDATE ON check_answer
BEGIN
    SELECT RAISE(ABORT, 'answers of the final check are append-only');
END;
CREATE TRIGGER check_answer_is_never_deleted BEFORE DELETE ON check_answer
BEGIN
    SELECT RAISE(ABORT, 'answers of the final check are append-only');
END;
