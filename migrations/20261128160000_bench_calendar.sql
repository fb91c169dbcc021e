-- Who is at the bench when: hours by weekday and person, closed days, absences.

-- A person's hours from a day on. A change is a new row, so that past weeks keep the hours they had; the newest row of
-- the newest day counts. Minutes are those that can be worked on jobs, without the counter and the telephone.
CREATE TABLE bench_week (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    staff_id BLOB NOT NULL REFERENCES staff (id),
    from_day TEXT NOT NULL CHECK (from_day LIKE '____-__-__'),
    monday_minutes INTEGER NOT NULL CHECK (monday_minutes BETWEEN 0 AND 1440),
    tuesday_minutes INTEGER NOT NULL CHECK (tuesday_minutes BETWEEN 0 AND 1440),
    wednesday_minutes INTEGER NOT NULL CHECK (wednesday_minutes BETWEEN 0 AND 1440),
    thursday_minutes INTEGER NOT NULL CHECK (thursday_minutes BETWEEN 0 AND 1440),
    friday_minutes INTEGER NOT NULL CHECK (friday_minutes BETWEEN 0 AND 1440),
    saturday_minutes INTEGER NOT NULL CHECK (saturday_minutes BETWEEN 0 AND 1440),
    sunday_minutes INTEGER NOT NULL CHECK (sunday_minutes BETWEEN 0 AND 1440),
    -- null: was always here, and stays
    first_day TEXT CHECK (first_day LIKE '____-__-__'),
    last_day TEXT CHECK (last_day LIKE '____-__-__' AND (first_day IS NULL OR last_day >= first_day)),
    set_by BLOB NOT NULL REFERENCES staff (id),
    set_at INTEGER NOT NULL
) STRICT;
CREATE INDEX bench_week_staff ON bench_week (staff_id, from_day, id);
CREATE TRIGGER bench_week_is_never_changed BEFORE UPDATE ON bench_week
BEGIN
    SELECT RAISE(ABORT, 'hours are append-only');
END;
CREATE TRIGGER bench_week_is_never_deleted BEFORE DELETE ON bench_week
BEGIN
    SELECT RAISE(ABORT, 'hours are append-only');
END;

-- Days on which nobody works. Taken back, a row stays and counts no more.
CREATE TABLE closed_days (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    first_day TEXT NOT NULL CHECK (first_day LIKE '____-__-__'),
    last_day TEXT NOT NULL CHECK (last_day LIKE '____-__-__' AND last_day >= first_day),
    why TEXT NOT NULL CHECK (why IN ('holiday', 'closure')),
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 120),
    -- it came in a calendar file
    is_imported INTEGER NOT NULL CHECK (is_imported IN (0, 1)),
    made_by BLOB NOT NULL REFERENCES staff (id),
    made_at INTEGER NOT NULL,
    taken_back_at INTEGER
) STRICT;
-- the same file taken twice closes no day twice
CREATE UNIQUE INDEX closed_days_once ON closed_days (first_day, last_day, why, name) WHERE taken_back_at IS NULL;
-- what is over is not asked for
CREATE INDEX closed_days_last ON closed_days (last_day) WHERE taken_back_at IS NULL;

-- Days of one person that are not as usual. Why is nobody's business here: there is no column for it.
CREATE TABLE absence (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    staff_id BLOB NOT NULL REFERENCES staff (id),
    first_day TEXT NOT NULL CHECK (first_day LIKE '____-__-__'),
    last_day TEXT NOT NULL CHECK (last_day LIKE '____-__-__' AND last_day >= first_day),
    -- of a day that is not wholly away
    minutes_left INTEGER NOT NULL CHECK (minutes_left BETWEEN 0 AND 1440),
    made_by BLOB NOT NULL REFERENCES staff (id),
    made_at INTEGER NOT NULL,
    taken_back_at INTEGER
) STRICT;
CREATE UNIQUE INDEX absence_once ON absence (staff_id, first_day, last_day, minutes_left) WHERE taken_back_at IS NULL;
CREATE INDEX absence_last ON absence (last_day) WHERE taken_back_at IS NULL;
