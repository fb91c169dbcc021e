-- Who brings instruments, and what they bring.

CREATE TABLE customer (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    -- case and accents folded, for search
    name_folded TEXT NOT NULL,
    -- as typed; the E.164 form and the bare digits stand beside it for dialling and for search
    telephone TEXT NOT NULL,
    telephone_e164 TEXT,
    telephone_digits TEXT NOT NULL,
    email TEXT NOT NULL,
    address TEXT NOT NULL,
    reach_by TEXT NOT NULL CHECK (reach_by IN ('telephone', 'email', 'letter')),
    reminders_agreed_on TEXT CHECK (reminders_agreed_on IS NULL OR reminders_agreed_on LIKE '____-__-__'),
    note TEXT NOT NULL,
    created_at INTEGER NOT NULL,
    form_key TEXT NOT NULL UNIQUE,
    version INTEGER NOT NULL DEFAULT 1
) STRICT;
CREATE INDEX customer_name ON customer (name_folded);
CREATE INDEX customer_telephone ON customer (telephone_digits);

CREATE TABLE instrument (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    -- whose it is now; each job keeps who brought it, so a change of hands loses nobody
    customer_id BLOB NOT NULL REFERENCES customer (id),
    family TEXT NOT NULL CHECK (family IN ('steel-string', 'classical', 'electric', 'bass', 'ukulele', 'mandolin', 'banjo', 'other')),
    maker TEXT NOT NULL,
    model TEXT NOT NULL,
    serial TEXT NOT NULL,
    year INTEGER CHECK (year BETWEEN 1500 AND 2200),
    finish TEXT NOT NULL,
    handedness TEXT NOT NULL CHECK (handedness IN ('right', 'left')),
    scale_um INTEGER NOT NULL CHECK (scale_um BETWEEN 200000 AND 1500000),
    frets INTEGER NOT NULL CHECK (frets BETWEEN 5 AND 40),
    body_fret INTEGER NOT NULL CHECK (body_fret BETWEEN 3 AND frets),
    -- both null: flat board or not known; equal: cylinder; different: compound
    radius_nut_um INTEGER CHECK (radius_nut_um > 0),
    radius_end_um INTEGER CHECK (radius_end_um > 0),
    courses INTEGER NOT NULL CHECK (courses BETWEEN 1 AND 24),
    truss_rod TEXT NOT NULL CHECK (truss_rod IN ('none', 'one-way', 'two-way')),
    bridge TEXT NOT NULL,
    saddle TEXT NOT NULL,
    nut_material TEXT NOT NULL,
    saddle_material TEXT NOT NULL,
    string_set TEXT NOT NULL,
    top_wood TEXT NOT NULL,
    top_width_um INTEGER CHECK (top_width_um > 0),
    note TEXT NOT NULL,
    created_at INTEGER NOT NULL,
    form_key TEXT NOT NULL UNIQUE,
    version INTEGER NOT NULL DEFAULT 1,
    CHECK ((radius_nut_um IS NULL) = (radius_end_um IS NULL)),
    CHECK (radius_nut_um IS NULL OR radius_nut_um <= radius_end_um)
) STRICT;
CREATE INDEX instrument_customer ON instrument (customer_id);
CREATE INDEX instrument_serial ON instrument (serial) WHERE serial <> '';

-- String 1 is the thinnest of a guitar (treble side).
CREATE TABLE instrument_string (
    instrument_id BLOB NOT NULL REFERENCES instrument (id) ON DELETE CASCADE,
    number INTEGER NOT NULL CHECK (number BETWEEN 1 AND 24),
    pitch TEXT NOT NULL,
    gauge_um INTEGER CHECK (gauge_um BETWEEN 100 AND 5000),
    core_um INTEGER CHECK (core_um BETWEEN 50 AND 5000),
    material TEXT CHECK (material IN ('steel', 'nylon', 'fluorocarbon', 'gut')),
    wound INTEGER NOT NULL CHECK (wound IN (0, 1)),
    linear_density_ug_per_m INTEGER CHECK (linear_density_ug_per_m > 0),
    -- across the saddle, from string 1
    position_um INTEGER CHECK (position_um >= 0),
    PRIMARY KEY (instrument_id, number)
) STRICT;

CREATE TABLE care_plan (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    instrument_id BLOB NOT NULL REFERENCES instrument (id),
    kind TEXT NOT NULL CHECK (kind IN ('oil-tuners', 'look-over', 'rehydrate', 'restring')),
    every_months INTEGER NOT NULL CHECK (every_months BETWEEN 1 AND 120),
    -- the month it suits best (rehydration before the heating season); null: any
    suits_month INTEGER CHECK (suits_month BETWEEN 1 AND 12),
    last_done_on TEXT CHECK (last_done_on IS NULL OR last_done_on LIKE '____-__-__'),
    next_due_on TEXT NOT NULL CHECK (next_due_on LIKE '____-__-__'),
    paused INTEGER NOT NULL DEFAULT 0 CHECK (paused IN (0, 1)),
    version INTEGER NOT NULL DEFAULT 1,
    UNIQUE (instrument_id, kind)
) STRICT;
CREATE INDEX care_plan_due ON care_plan (next_due_on) WHERE paused = 0;
