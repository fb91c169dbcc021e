-- Why a promise moved, where somebody said it; the one free text of it, which goes when its customer is forgotten.
ALTER TABLE promise_move ADD COLUMN reason TEXT NOT NULL DEFAULT '';
DROP TRIGGER promise_move_is_told_once;
CREATE TRIGGER promise_move_is_told_once BEFORE UPDATE OF id, job_id, from_day, to_day, staff_id, moved_at, told_at, told_by,
    form_key ON promise_move
WHEN OLD.told_at IS NOT NULL OR NEW.id <> OLD.id OR NEW.job_id <> OLD.job_id OR NEW.from_day IS NOT OLD.from_day
    OR NEW.to_day <> OLD.to_day OR NEW.staff_id <> OLD.staff_id OR NEW.moved_at <> OLD.moved_at
    OR NEW.form_key <> OLD.form_key
BEGIN
    SELECT RAISE(ABORT, 'a promise that was moved is told once');
END;

-- A job that was written down for the wrong customer or the wrong instrument, and put right.
CREATE TABLE job_correction (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    job_id BLOB NOT NULL REFERENCES job (id),
    from_customer_id BLOB NOT NULL REFERENCES customer (id),
    to_customer_id BLOB NOT NULL REFERENCES customer (id),
    from_instrument_id BLOB NOT NULL REFERENCES instrument (id),
    to_instrument_id BLOB NOT NULL REFERENCES instrument (id),
    reason TEXT NOT NULL,
    corrected_at INTEGER NOT NULL,
    staff_id BLOB REFERENCES staff (id)
) STRICT;
CREATE INDEX job_correction_job ON job_correction (job_id, corrected_at);
CREATE INDEX job_correction_from ON job_correction (from_customer_id);
CREATE INDEX job_correction_to ON job_correction (to_customer_id);
