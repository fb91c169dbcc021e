-- One stay of one instrument, and what the bench read, saw and planned.

CREATE TABLE job (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    year INTEGER NOT NULL CHECK (year BETWEEN 0 AND 99),
    serial INTEGER NOT NULL CHECK (serial >= 1),
    -- what people say and scan: two digits of the year, a hyphen, the serial
    number TEXT NOT NULL UNIQUE CHECK (number GLOB '[0-9][0-9]-[0-9]*'),
    customer_id BLOB NOT NULL REFERENCES customer (id),
    instrument_id BLOB NOT NULL REFERENCES instrument (id),
    earlier_job_id BLOB REFERENCES job (id),
    complaint TEXT NOT NULL CHECK (length(complaint) >= 1),
    style TEXT NOT NULL CHECK (style IN ('light', 'medium', 'strong')),
    brought_with TEXT NOT NULL,
    rack TEXT NOT NULL,
    staff_id BLOB REFERENCES staff (id),
    promised_on TEXT CHECK (promised_on IS NULL OR promised_on LIKE '____-__-__'),
    stage TEXT NOT NULL CHECK (stage IN ('checked-in', 'measured', 'quoted', 'agreed', 'on-the-bench',
        'final-check', 'ready', 'collected', 'closed-unrepaired')),
    stage_since INTEGER NOT NULL,
    -- a side track: the stage stays, the reason is kept
    waiting_for TEXT CHECK (waiting_for IN ('part', 'customer', 'wood')),
    waiting_reason TEXT CHECK ((waiting_reason IS NULL) = (waiting_for IS NULL)),
    is_open INTEGER NOT NULL GENERATED ALWAYS AS (stage NOT IN ('collected', 'closed-unrepaired')) STORED,
    checked_in_at INTEGER NOT NULL,
    -- the hash of the customer's private link
    link_hash BLOB NOT NULL UNIQUE CHECK (length(link_hash) = 32),
    form_key TEXT NOT NULL UNIQUE,
    version INTEGER NOT NULL DEFAULT 1,
    UNIQUE (year, serial),
    CHECK (waiting_for IS NULL OR stage NOT IN ('collected', 'closed-unrepaired'))
) STRICT;
-- the queue reads open jobs only, so its cost does not grow with the shop's history
CREATE INDEX job_open ON job (promised_on, number) WHERE is_open = 1;
CREATE INDEX job_instrument ON job (instrument_id, checked_in_at);
CREATE INDEX job_customer ON job (customer_id, checked_in_at);
CREATE INDEX job_earlier ON job (earlier_job_id) WHERE earlier_job_id IS NOT NULL;

CREATE TABLE condition_mark (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    job_id BLOB NOT NULL REFERENCES job (id),
    number INTEGER NOT NULL CHECK (number >= 1),
    side TEXT NOT NULL CHECK (side IN ('front', 'back', 'side', 'headstock')),
    note TEXT NOT NULL CHECK (length(note) >= 1),
    -- place on the outline in thousandths of its width and height, where one was tapped
    x_permille INTEGER CHECK (x_permille BETWEEN 0 AND 1000),
    y_permille INTEGER CHECK (y_permille BETWEEN 0 AND 1000),
    made_at INTEGER NOT NULL,
    UNIQUE (job_id, number)
) STRICT;

-- One act of measuring.
CREATE TABLE reading_set (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    job_id BLOB NOT NULL REFERENCES job (id),
    stage TEXT NOT NULL CHECK (stage IN ('received', 'during', 'final')),
    taken_at INTEGER NOT NULL,
    staff_id BLOB NOT NULL REFERENCES staff (id),
    tuned_to TEXT NOT NULL,
    temperature_millicelsius INTEGER CHECK (temperature_millicelsius BETWEEN -40000 AND 60000),
    humidity_permille INTEGER CHECK (humidity_permille BETWEEN 0 AND 1000),
    tool TEXT NOT NULL,
    tool_resolution_um INTEGER NOT NULL CHECK (tool_resolution_um > 0),
    tool_limit_um INTEGER NOT NULL CHECK (tool_limit_um >= 0),
    fret_wear TEXT NOT NULL,
    note TEXT NOT NULL,
    form_key TEXT NOT NULL UNIQUE,
    version INTEGER NOT NULL DEFAULT 1
) STRICT;
CREATE INDEX reading_set_job ON reading_set (job_id, taken_at);

CREATE TABLE reading (
    reading_set_id BLOB NOT NULL REFERENCES reading_set (id),
    kind TEXT NOT NULL CHECK (kind IN ('height-12', 'height-1', 'gap-1-stopped-3', 'cents-12', 'relief',
        'saddle-treble', 'saddle-bass', 'saddle-slot', 'fret-height')),
    -- 0 for what is read once for the instrument
    string_number INTEGER NOT NULL CHECK (string_number BETWEEN 0 AND 24),
    repeat INTEGER NOT NULL CHECK (repeat BETWEEN 1 AND 20),
    -- micrometres; for cents-12 thousandths of a cent
    value INTEGER NOT NULL,
    typed TEXT NOT NULL,
    PRIMARY KEY (reading_set_id, kind, string_number, repeat),
    CHECK ((kind IN ('height-12', 'height-1', 'gap-1-stopped-3', 'cents-12')) = (string_number > 0))
) STRICT, WITHOUT ROWID;

CREATE TABLE observation (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    job_id BLOB NOT NULL REFERENCES job (id),
    key TEXT NOT NULL CHECK (length(key) BETWEEN 1 AND 40),
    string_number INTEGER CHECK (string_number BETWEEN 1 AND 24),
    fret INTEGER CHECK (fret BETWEEN 0 AND 40),
    note TEXT NOT NULL,
    staff_id BLOB NOT NULL REFERENCES staff (id),
    seen_at INTEGER NOT NULL,
    -- put right, or seen again and gone: no longer counted, never forgotten
    cleared_at INTEGER,
    form_key TEXT NOT NULL UNIQUE
) STRICT;
CREATE INDEX observation_job ON observation (job_id);

-- What the engine said of one reading set. Kept whole, with the engine's version, because a cut was made by it.
CREATE TABLE plan (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    job_id BLOB NOT NULL REFERENCES job (id),
    reading_set_id BLOB NOT NULL REFERENCES reading_set (id),
    engine_version TEXT NOT NULL,
    input_json TEXT NOT NULL CHECK (json_valid(input_json)),
    output_json TEXT NOT NULL CHECK (json_valid(output_json)),
    made_at INTEGER NOT NULL,
    staff_id BLOB NOT NULL REFERENCES staff (id)
) STRICT;
CREATE INDEX plan_job ON plan (job_id, made_at);
CREATE INDEX plan_reading_set ON plan (reading_set_id);
CREATE TRIGGER plan_is_kept_as_it_was_said BEFORE UPDATE ON plan
BEGIN
    SELECT RAISE(ABORT, 'plans are kept as they were said');
END;
