-- Work at the bench: the number a service asks for, time, parts, and notes to the next pair of hands.

-- what a service asks for when it is done ("turn of the rod"), and in which unit; '' asks for nothing
ALTER TABLE service ADD COLUMN asks_for TEXT NOT NULL DEFAULT '' CHECK (length(asks_for) <= 80);
ALTER TABLE service ADD COLUMN asks_unit TEXT NOT NULL DEFAULT '' CHECK (length(asks_unit) <= 20);
-- the number that was asked for, in thousandths of its unit; `result` says it in words
ALTER TABLE work_line ADD COLUMN result_thousandths INTEGER;

-- One stretch of work by one person on one line. An entry is written once and ended once; what was wrong
-- with it is said by a correction.
CREATE TABLE labour_entry (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    job_id BLOB NOT NULL REFERENCES job (id),
    work_line_id BLOB NOT NULL REFERENCES work_line (id),
    staff_id BLOB NOT NULL REFERENCES staff (id),
    started_at INTEGER NOT NULL,
    ended_at INTEGER CHECK (ended_at >= started_at)
) STRICT;
-- nobody works on two lines at once
CREATE UNIQUE INDEX labour_entry_running ON labour_entry (staff_id) WHERE ended_at IS NULL;
CREATE INDEX labour_entry_job ON labour_entry (job_id);
CREATE INDEX labour_entry_work_line ON labour_entry (work_line_id);
CREATE INDEX labour_entry_staff ON labour_entry (staff_id, started_at);
CREATE TRIGGER labour_entry_is_ended_once BEFORE UPDATE ON labour_entry
WHEN OLD.ended_at IS NOT NULL OR NEW.id <> OLD.id OR NEW.job_id <> OLD.job_id OR NEW.work_line_id <> OLD.work_line_id
    OR NEW.staff_id <> OLD.staff_id OR NEW.started_at <> OLD.started_at
BEGIN
    SELECT RAISE(ABORT, 'labour is corrected by a correction');
END;
CREATE TRIGGER labour_entry_is_never_deleted BEFORE DELETE ON labour_entry
BEGIN
    SELECT RAISE(ABORT, 'labour is never deleted');
END;

-- The newest correction of an entry counts.
CREATE TABLE labour_correction (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    labour_entry_id BLOB NOT NULL REFERENCES labour_entry (id),
    minutes INTEGER NOT NULL CHECK (minutes BETWEEN 0 AND 1440),
    reason TEXT NOT NULL CHECK (length(reason) >= 1),
    staff_id BLOB NOT NULL REFERENCES staff (id),
    corrected_at INTEGER NOT NULL,
    form_key TEXT NOT NULL UNIQUE
) STRICT;
CREATE INDEX labour_correction_entry ON labour_correction (labour_entry_id, id);
CREATE TRIGGER labour_correction_is_never_changed BEFORE UPDATE ON labour_correction
BEGIN
    SELECT RAISE(ABORT, 'corrections are append-only');
END;
CREATE TRIGGER labour_correction_is_never_deleted BEFORE DELETE ON labour_correction
BEGIN
    SELECT RAISE(ABORT, 'corrections are append-only');
END;

-- What lies in the drawers. Quantities are thousandths of the unit: wire goes by the metre.
CREATE TABLE part (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    name_folded TEXT NOT NULL UNIQUE,
    unit TEXT NOT NULL CHECK (length(unit) BETWEEN 1 AND 20),
    -- the sum of the movements; below nothing where the shelf was not counted
    on_hand INTEGER NOT NULL DEFAULT 0,
    reorder_at INTEGER CHECK (reorder_at >= 0),
    cost INTEGER CHECK (cost BETWEEN 0 AND 100000000),
    price INTEGER CHECK (price BETWEEN 0 AND 100000000),
    archived INTEGER NOT NULL DEFAULT 0 CHECK (archived IN (0, 1)),
    form_key TEXT NOT NULL UNIQUE,
    version INTEGER NOT NULL DEFAULT 1
) STRICT;

CREATE TABLE part_movement (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    part_id BLOB NOT NULL REFERENCES part (id),
    kind TEXT NOT NULL CHECK (kind IN ('taken', 'put-back', 'received', 'counted')),
    -- what was added to the shelf, in thousandths; a taking has a minus
    quantity INTEGER NOT NULL CHECK ((kind <> 'taken' OR quantity < 0) AND (kind NOT IN ('put-back', 'received') OR quantity > 0)),
    on_hand_after INTEGER NOT NULL,
    job_id BLOB REFERENCES job (id),
    work_line_id BLOB REFERENCES work_line (id),
    -- a taking that was put back is named by the putting back
    puts_back BLOB UNIQUE REFERENCES part_movement (id),
    note TEXT NOT NULL,
    staff_id BLOB NOT NULL REFERENCES staff (id),
    moved_at INTEGER NOT NULL,
    form_key TEXT NOT NULL UNIQUE,
    CHECK ((kind IN ('taken', 'put-back')) = (job_id IS NOT NULL)),
    CHECK ((kind = 'put-back') = (puts_back IS NOT NULL))
) STRICT;
CREATE INDEX part_movement_part ON part_movement (part_id, moved_at);
CREATE INDEX part_movement_job ON part_movement (job_id, moved_at) WHERE job_id IS NOT NULL;
CREATE INDEX part_movement_work_line ON part_movement (work_line_id) WHERE work_line_id IS NOT NULL;
CREATE TRIGGER part_movement_is_never_changed BEFORE UPDATE ON part_movement
BEGIN
    SELECT RAISE(ABORT, 'movements of parts are append-only');
END;
CREATE TRIGGER part_movement_is_never_deleted BEFORE DELETE ON part_movement
BEGIN
    SELECT RAISE(ABORT, 'movements of parts are append-only');
END;

-- A note to the next pair of hands. Written once, never changed.
CREATE TABLE job_note (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    job_id BLOB NOT NULL REFERENCES job (id),
    words TEXT NOT NULL CHECK (length(words) BETWEEN 1 AND 4000),
    staff_id BLOB NOT NULL REFERENCES staff (id),
    written_at INTEGER NOT NULL,
    form_key TEXT NOT NULL UNIQUE
) STRICT;
CREATE INDEX job_note_job ON job_note (job_id, written_at);
CREATE TRIGGER job_note_is_never_changed BEFORE UPDATE ON job_note
BEGIN
    SELECT RAISE(ABORT, 'notes are append-only');
END;
CREATE TRIGGER job_note_is_never_deleted BEFORE DELETE ON job_note
BEGIN
    SELECT RAISE(ABORT, 'notes are append-only');
END;

-- a place on the fretboard that was tapped by mistake: cleared, but nothing was put right
ALTER TABLE observation ADD COLUMN taken_back INTEGER NOT NULL DEFAULT 0
    CHECK (taken_back IN (0, 1) AND (taken_back = 0 OR cleared_at IS NOT NULL));
