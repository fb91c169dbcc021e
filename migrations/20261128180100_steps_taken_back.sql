-- When the steps of the plan were done that a draft begins with, and who said so; NULL is as it was opened.
ALTER TABLE reading_draft ADD COLUMN steps_done_at INTEGER;
ALTER TABLE reading_draft ADD COLUMN steps_done_by BLOB REFERENCES staff (id);

-- A step that was said to be done and was not, or otherwise. Until something was read since it needs no word.
CREATE TABLE step_correction (
    id INTEGER PRIMARY KEY NOT NULL,
    draft_id BLOB NOT NULL REFERENCES reading_draft (id),
    steps TEXT NOT NULL CHECK (json_valid(steps)),
    words TEXT NOT NULL CHECK (length(words) <= 200),
    staff_id BLOB NOT NULL REFERENCES staff (id),
    corrected_at INTEGER NOT NULL
) STRICT;
CREATE INDEX step_correction_draft ON step_correction (draft_id);
CREATE TRIGGER step_correction_is_never_changed BEFORE UPDATE ON step_correction
WHEN NOT (
    NEW.words = ''
    AND OLD.draft_id IN (SELECT id FROM reading_draft WHERE job_id IN (SELECT id FROM forgotten_job))
    AND NEW.id = OLD.id AND NEW.draft_id = OLD.draft_id AND NEW.steps = OLD.steps AND NEW.staff_id = OLD.staff_id
    AND NEW.corrected_at = OLD.corrected_at
)
BEGIN
    SELECT RAISE(ABORT, 'corrections are append-only');
END;
CREATE TRIGGER step_correction_is_never_deleted BEFORE DELETE ON step_correction
BEGIN
    SELECT RAISE(ABORT, 'corrections are append-only');
END;
