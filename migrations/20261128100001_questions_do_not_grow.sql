-- Questions that went through all the shop ever did.

-- What rods did on necks of one body joint, the newest first. The joint stands beside the act of measuring, and
-- follows when the instrument is corrected.
ALTER TABLE reading_draft ADD COLUMN body_fret INTEGER;
UPDATE reading_draft SET body_fret = (
    SELECT instrument.body_fret FROM job JOIN instrument ON instrument.id = job.instrument_id
    WHERE job.id = reading_draft.job_id);
CREATE TRIGGER reading_draft_knows_its_body_joint AFTER INSERT ON reading_draft
BEGIN
    UPDATE reading_draft SET body_fret = (
        SELECT instrument.body_fret FROM job JOIN instrument ON instrument.id = job.instrument_id
        WHERE job.id = NEW.job_id)
    WHERE id = NEW.id;
END;
CREATE TRIGGER body_joint_was_corrected AFTER UPDATE OF body_fret ON instrument WHEN NEW.body_fret <> OLD.body_fret
BEGIN
    UPDATE reading_draft SET body_fret = NEW.body_fret WHERE job_id IN (SELECT id FROM job WHERE instrument_id = NEW.id);
END;
DROP INDEX reading_draft_rod;
CREATE INDEX reading_draft_rod ON reading_draft (body_fret, opened_at)
    WHERE done_steps IN ('["relief-too-much"]', '["relief-too-little"]');

-- At each start the pictures of forgotten photographs are deleted that still lie there; who shows the same picture
-- keeps it.
ALTER TABLE photo ADD COLUMN pictures_removed INTEGER NOT NULL DEFAULT 0
    CHECK (pictures_removed IN (0, 1) AND (pictures_removed = 0 OR forgotten = 1));
CREATE INDEX photo_to_remove ON photo (id) WHERE forgotten = 1 AND pictures_removed = 0;
CREATE INDEX photo_sha256 ON photo (sha256);
CREATE INDEX photo_small_sha256 ON photo (small_sha256);

-- unanswered quotes are asked for by open job: those of jobs that left the house without an answer only grow more
DROP INDEX day_view_quotes;

-- the care list begins with what is due now and goes back from there, line by line
DROP INDEX care_plan_due;
CREATE INDEX care_plan_due ON care_plan (next_due_on, id) WHERE paused = 0;

-- the clocks that run, the newest first
CREATE INDEX labour_entry_clocks ON labour_entry (started_at) WHERE ended_at IS NULL;
