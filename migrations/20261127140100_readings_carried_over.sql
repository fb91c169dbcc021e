-- A reading that was carried over into a later set keeps what it was read with, and when: the columns are empty
-- where it was read with its set.
ALTER TABLE reading ADD COLUMN carried_from BLOB REFERENCES reading_set (id);
ALTER TABLE reading ADD COLUMN read_at INTEGER CHECK ((read_at IS NULL) = (carried_from IS NULL));
ALTER TABLE reading ADD COLUMN tool TEXT CHECK ((tool IS NULL) = (carried_from IS NULL));
ALTER TABLE reading ADD COLUMN tool_resolution_um INTEGER
    CHECK (tool_resolution_um > 0 AND (tool_resolution_um IS NULL) = (carried_from IS NULL));
ALTER TABLE reading ADD COLUMN tool_limit_um INTEGER
    CHECK (tool_limit_um >= 0 AND (tool_limit_um IS NULL) = (carried_from IS NULL));
CREATE INDEX reading_carried_from ON reading (carried_from) WHERE carried_from IS NOT NULL;
