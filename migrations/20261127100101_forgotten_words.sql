-- Whoever asks to be forgotten takes their words along: complaint, notes, marks, reasons, captions and pictures.
-- What was worked, read and paid stays. The append-only tables open for that alone: one free text of a job whose
-- customer is forgotten becomes a placeholder, and nothing else of the row moves.

-- the picture's files are gone; the row stays, blank and set aside
ALTER TABLE photo ADD COLUMN forgotten INTEGER NOT NULL DEFAULT 0
    CHECK (forgotten IN (0, 1) AND (forgotten = 0 OR (set_aside = 1 AND caption = '')));

CREATE VIEW forgotten_job AS
SELECT job.id FROM job JOIN customer ON customer.id = job.customer_id WHERE customer.anonymised_on IS NOT NULL;

DROP TRIGGER job_note_is_never_changed;
CREATE TRIGGER job_note_is_never_changed BEFORE UPDATE ON job_note
WHEN NOT (
    NEW.words = 'anonymised' AND OLD.job_id IN (SELECT id FROM forgotten_job)
    AND NEW.id = OLD.id AND NEW.job_id = OLD.job_id AND NEW.staff_id = OLD.staff_id AND NEW.written_at = OLD.written_at
    AND NEW.form_key = OLD.form_key
)
BEGIN
    SELECT RAISE(ABORT, 'notes are append-only');
END;

DROP TRIGGER payment_is_never_changed;
CREATE TRIGGER payment_is_never_changed BEFORE UPDATE ON payment
WHEN NOT (
    NEW.note = '' AND OLD.job_id IN (SELECT id FROM forgotten_job)
    AND NEW.id = OLD.id AND NEW.job_id = OLD.job_id AND NEW.kind = OLD.kind AND NEW.method = OLD.method
    AND NEW.amount = OLD.amount AND NEW.taken_at = OLD.taken_at AND NEW.staff_id = OLD.staff_id
    AND NEW.form_key = OLD.form_key
)
BEGIN
    SELECT RAISE(ABORT, 'payments are append-only');
END;

DROP TRIGGER check_answer_is_never_changed;
CREATE TRIGGER check_answer_is_never_changed BEFORE UPDATE ON check_answer
WHEN NOT (
    NEW.reason = 'anonymised' AND OLD.job_id IN (SELECT id FROM forgotten_job)
    AND NEW.id = OLD.id AND NEW.job_id = OLD.job_id AND NEW.check_item_id = OLD.check_item_id
    AND NEW.arrived_at = OLD.arrived_at AND NEW.answer = OLD.answer AND NEW.staff_id = OLD.staff_id
    AND NEW.answered_at = OLD.answered_at
)
BEGIN
    SELECT RAISE(ABORT, 'answers of the final check are append-only');
END;

DROP TRIGGER labour_correction_is_never_changed;
CREATE TRIGGER labour_correction_is_never_changed BEFORE UPDATE ON labour_correction
WHEN NOT (
    NEW.reason = 'anonymised'
    AND OLD.labour_entry_id IN (SELECT id FROM labour_entry WHERE job_id IN (SELECT id FROM forgotten_job))
    AND NEW.id = OLD.id AND NEW.labour_entry_id = OLD.labour_entry_id AND NEW.minutes = OLD.minutes
    AND NEW.staff_id = OLD.staff_id AND NEW.corrected_at = OLD.corrected_at AND NEW.form_key = OLD.form_key
)
BEGIN
    SELECT RAISE(ABORT, 'corrections are append-only');
END;

-- the note of a reading set and its “cannot be measured, because” are typed into cells like the figures
DROP TRIGGER reading_entry_is_never_changed;
CREATE TRIGGER reading_entry_is_never_changed BEFORE UPDATE ON reading_entry
WHEN NOT (
    NEW.typed = ''
    AND OLD.draft_id IN (SELECT id FROM reading_draft WHERE job_id IN (SELECT id FROM forgotten_job))
    AND NEW.id = OLD.id AND NEW.draft_id = OLD.draft_id AND NEW.cell = OLD.cell AND NEW.is_sure = OLD.is_sure
    AND NEW.entry_key = OLD.entry_key AND NEW.replaces = OLD.replaces AND NEW.settles = OLD.settles
    AND NEW.is_disputed = OLD.is_disputed AND NEW.staff_id = OLD.staff_id AND NEW.entered_at = OLD.entered_at
)
BEGIN
    SELECT RAISE(ABORT, 'entries are only added');
END;

-- a plan quotes what was noted of a place; the figures and steps stay
DROP TRIGGER plan_is_kept_as_it_was_said;
CREATE TRIGGER plan_is_kept_as_it_was_said BEFORE UPDATE ON plan
WHEN NOT (
    OLD.job_id IN (SELECT id FROM forgotten_job)
    AND NEW.id = OLD.id AND NEW.job_id = OLD.job_id AND NEW.reading_set_id = OLD.reading_set_id
    AND NEW.engine_version = OLD.engine_version AND NEW.made_at = OLD.made_at AND NEW.staff_id = OLD.staff_id
)
BEGIN
    SELECT RAISE(ABORT, 'plans are kept as they were said');
END;

-- Of an event all words may go, or only the reason of a move and the note of an instrument; nothing is put in.
DROP TRIGGER event_is_never_changed;
CREATE TRIGGER event_is_never_changed BEFORE UPDATE ON event
WHEN NOT (
    NEW.id = OLD.id AND NEW.at = OLD.at AND NEW.staff_id IS OLD.staff_id AND NEW.door = OLD.door AND NEW.deed = OLD.deed
    AND NEW.record = OLD.record AND NEW.record_id IS OLD.record_id
    AND (NEW.before_json IS OLD.before_json OR NEW.before_json IS '"anonymised"'
         OR (OLD.record = 'instrument' AND NEW.before_json IS json_replace(OLD.before_json, '$.note', '')))
    AND (NEW.after_json IS OLD.after_json OR NEW.after_json IS '"anonymised"'
         OR (OLD.record = 'instrument' AND NEW.after_json IS json_replace(OLD.after_json, '$.note', ''))
         OR (OLD.deed = 'stage moved' AND NEW.after_json IS json_remove(OLD.after_json, '$.reason')))
)
BEGIN
    SELECT RAISE(ABORT, 'events are append-only');
END;
