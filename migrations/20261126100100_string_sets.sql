-- The shop's string sets: what is put on instruments, with what each string weighs where it is known.

CREATE TABLE string_set (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    family TEXT NOT NULL CHECK (family IN ('steel-string', 'classical', 'electric', 'bass', 'ukulele', 'mandolin', 'banjo', 'other')),
    -- no longer offered; instruments that wear it keep their strings
    archived INTEGER NOT NULL DEFAULT 0 CHECK (archived IN (0, 1)),
    created_at INTEGER NOT NULL,
    form_key TEXT NOT NULL UNIQUE,
    version INTEGER NOT NULL DEFAULT 1
) STRICT;
CREATE INDEX string_set_family ON string_set (family, name);

-- From string 1, the thinnest of a guitar (treble side).
CREATE TABLE string_set_string (
    string_set_id BLOB NOT NULL REFERENCES string_set (id) ON DELETE CASCADE,
    number INTEGER NOT NULL CHECK (number BETWEEN 1 AND 24),
    pitch TEXT NOT NULL,
    -- of the string, or of its core
    material TEXT NOT NULL CHECK (material IN ('steel', 'nylon', 'fluorocarbon', 'gut')),
    gauge_um INTEGER NOT NULL CHECK (gauge_um BETWEEN 100 AND 5000),
    wound INTEGER NOT NULL CHECK (wound IN (0, 1)),
    core_um INTEGER CHECK (core_um BETWEEN 50 AND 5000),
    wrap_um INTEGER CHECK (wrap_um BETWEEN 20 AND 5000),
    linear_density_ug_per_m INTEGER CHECK (linear_density_ug_per_m > 0),
    PRIMARY KEY (string_set_id, number)
) STRICT;
