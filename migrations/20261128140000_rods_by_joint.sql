-- Rods that were turned alone, by the body joint of the neck, the newest first: what the plan asks of them.
DROP INDEX reading_draft_rod;
CREATE INDEX reading_draft_rod ON reading_draft (body_fret, opened_at) WHERE is_rod_alone = 1;
