-- One more thing is read string by string: from the crown of fret 12 to where the string leaves the saddle. The list
-- of kinds is a CHECK, so the table is built anew; no other table refers to it, and every reading is taken over as it
-- stands.
CREATE TABLE reading_anew (
    reading_set_id BLOB NOT NULL REFERENCES reading_set (id),
    kind TEXT NOT NULL CHECK (kind IN ('height-12', 'height-1', 'gap-1-stopped-3', 'cents-12', 'from-12-to-saddle', 'relief',
        'saddle-treble', 'saddle-bass', 'saddle-slot', 'fret-height')),
    -- 0 for what is read once for the instrument
    string_number INTEGER NOT NULL CHECK (string_number BETWEEN 0 AND 24),
    repeat INTEGER NOT NULL CHECK (repeat BETWEEN 1 AND 20),
    -- micrometres; for cents-12 thousandths of a cent
    value INTEGER NOT NULL,
    typed TEXT NOT NULL,
    -- where a reading was carried over from, with what it was read and when; empty where it was read with its set
    carried_from BLOB REFERENCES reading_set (id),
    read_at INTEGER CHECK ((read_at IS NULL) = (carried_from IS NULL)),
    tool TEXT CHECK ((tool IS NULL) = (carried_from IS NULL)),
    tool_resolution_um INTEGER CHECK (tool_resolution_um > 0 AND (tool_resolution_um IS NULL) = (carried_from IS NULL)),
    tool_limit_um INTEGER CHECK (tool_limit_um >= 0 AND (tool_limit_um IS NULL) = (carried_from IS NULL)),
    PRIMARY KEY (reading_set_id, kind, string_number, repeat),
    CHECK ((kind IN ('height-12', 'height-1', 'gap-1-stopped-3', 'cents-12', 'from-12-to-saddle')) = (string_number > 0))
) STRICT, WITHOUT ROWID;
INSERT INTO reading_anew (reading_set_id, kind, string_number, repeat, value, typed, carried_from, read_at, tool,
    tool_resolution_um, tool_limit_um)
SELECT reading_set_id, kind, string_number, repeat, value, typed, carried_from, read_at, tool, tool_resolution_um, tool_limit_um
FROM reading;
DROP TABLE reading;
ALTER TABLE reading_anew RENAME TO reading;
CREATE INDEX reading_carried_from ON reading (carried_from) WHERE carried_from IS NOT NULL;
