-- The order of the queue as somebody wished it, promises that were moved, and every forecast as it was made.

-- A place given by hand, or taken back (no place). The newest row of a job counts, while what it stands beside is open.
CREATE TABLE queue_move (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    job_id BLOB NOT NULL REFERENCES job (id),
    -- null: where the rule puts it; 'after': not begun before the other is done
    place TEXT CHECK (place IN ('first', 'before', 'behind', 'after')),
    beside_job_id BLOB REFERENCES job (id) CHECK (beside_job_id <> job_id),
    reason TEXT NOT NULL CHECK (place IS NULL OR length(reason) >= 1),
    staff_id BLOB NOT NULL REFERENCES staff (id),
    moved_at INTEGER NOT NULL,
    form_key TEXT NOT NULL UNIQUE,
    CHECK ((beside_job_id IS NOT NULL) = (place IS NOT NULL AND place <> 'first'))
) STRICT;
CREATE INDEX queue_move_job ON queue_move (job_id, id);
CREATE TRIGGER queue_move_is_never_changed BEFORE UPDATE ON queue_move
WHEN NOT (
    NEW.reason = 'anonymised' AND OLD.job_id IN (SELECT id FROM forgotten_job)
    AND NEW.id = OLD.id AND NEW.job_id = OLD.job_id AND NEW.place IS OLD.place
    AND NEW.beside_job_id IS OLD.beside_job_id AND NEW.staff_id = OLD.staff_id AND NEW.moved_at = OLD.moved_at
    AND NEW.form_key = OLD.form_key
)
BEGIN
    SELECT RAISE(ABORT, 'places given by hand are append-only');
END;
CREATE TRIGGER queue_move_is_never_deleted BEFORE DELETE ON queue_move
BEGIN
    SELECT RAISE(ABORT, 'places given by hand are append-only');
END;

-- A promise that was moved from the queue, and whether the customer was told.
CREATE TABLE promise_move (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    job_id BLOB NOT NULL REFERENCES job (id),
    from_day TEXT CHECK (from_day LIKE '____-__-__'),
    to_day TEXT NOT NULL CHECK (to_day LIKE '____-__-__'),
    staff_id BLOB NOT NULL REFERENCES staff (id),
    moved_at INTEGER NOT NULL,
    told_at INTEGER CHECK (told_at >= moved_at),
    told_by BLOB REFERENCES staff (id),
    form_key TEXT NOT NULL UNIQUE,
    CHECK ((told_at IS NULL) = (told_by IS NULL))
) STRICT;
CREATE INDEX promise_move_job ON promise_move (job_id, id);
CREATE INDEX promise_move_to_tell ON promise_move (job_id, id) WHERE told_at IS NULL;
CREATE TRIGGER promise_move_is_told_once BEFORE UPDATE ON promise_move
WHEN OLD.told_at IS NOT NULL OR NEW.id <> OLD.id OR NEW.job_id <> OLD.job_id OR NEW.from_day IS NOT OLD.from_day
    OR NEW.to_day <> OLD.to_day OR NEW.staff_id <> OLD.staff_id OR NEW.moved_at <> OLD.moved_at
    OR NEW.form_key <> OLD.form_key
BEGIN
    SELECT RAISE(ABORT, 'a promise that was moved is told once');
END;
CREATE TRIGGER promise_move_is_never_deleted BEFORE DELETE ON promise_move
BEGIN
    SELECT RAISE(ABORT, 'promises that were moved are never deleted');
END;

-- How sure a promise is, thousandths.
ALTER TABLE settings ADD COLUMN promise_confidence INTEGER NOT NULL DEFAULT 900
    CHECK (promise_confidence BETWEEN 500 AND 990);

-- A forecast exactly as it was made, to be held against what then happened. Never changed.
CREATE TABLE promise_forecast (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    job_id BLOB NOT NULL REFERENCES job (id),
    made_at INTEGER NOT NULL,
    -- the shop's day of that moment
    made_on TEXT NOT NULL CHECK (made_on LIKE '____-__-__'),
    why TEXT NOT NULL CHECK (why IN ('check-in', 'night', 'on-demand', 'moved')),
    -- how sure it was to be at least, thousandths
    confidence INTEGER NOT NULL CHECK (confidence BETWEEN 10 AND 999),
    -- the day by which that share of draws was done, the share that was, and the day of half of them; null: no day
    day TEXT CHECK (day LIKE '____-__-__'),
    share INTEGER CHECK (share BETWEEN 0 AND 1000),
    median_day TEXT CHECK (median_day LIKE '____-__-__'),
    -- why there is no day
    no_day TEXT CHECK (no_day IN ('no-hours', 'person-away', 'no-minutes', 'unknown-wait', 'after-another', 'too-far')),
    -- [days after made_on, share of the draws done by then in thousandths], rising; null without a day
    done_by TEXT CHECK (json_valid(done_by)),
    -- the day that the customer was told with it; null: none was
    told_day TEXT CHECK (told_day LIKE '____-__-__'),
    -- what it rested on
    jobs_ahead INTEGER NOT NULL CHECK (jobs_ahead >= 0),
    minutes_ahead INTEGER NOT NULL CHECK (minutes_ahead >= 0),
    own_minutes INTEGER NOT NULL CHECK (own_minutes >= 0),
    minutes_from TEXT NOT NULL CHECK (minutes_from IN ('clocked', 'estimate', 'family', 'price-list', 'nothing')),
    -- jobs that the least known of its minutes rests on
    jobs_known INTEGER NOT NULL CHECK (jobs_known >= 0),
    -- past waits that the least known of its waits rests on; null: it waited for nothing
    waits_known INTEGER CHECK (waits_known >= 0),
    ahead_without_minutes INTEGER NOT NULL CHECK (ahead_without_minutes >= 0),
    engine_version TEXT NOT NULL,
    -- the same seed, the same draws; as a signed number
    seed INTEGER NOT NULL,
    draws INTEGER NOT NULL CHECK (draws >= 1),
    CHECK ((day IS NULL) = (no_day IS NOT NULL)),
    CHECK ((day IS NULL) = (share IS NULL) AND (day IS NULL) = (median_day IS NULL) AND (day IS NULL) = (done_by IS NULL))
) STRICT;
CREATE INDEX promise_forecast_job ON promise_forecast (job_id, id);
-- forecasts of a stretch of time, and those of check-ins among them without the many of the nights
CREATE INDEX promise_forecast_made ON promise_forecast (made_on, job_id);
CREATE INDEX promise_forecast_why ON promise_forecast (why, made_on, job_id);
CREATE TRIGGER promise_forecast_is_kept_as_it_was_made BEFORE UPDATE ON promise_forecast
BEGIN
    SELECT RAISE(ABORT, 'forecasts are kept as they were made');
END;
CREATE TRIGGER promise_forecast_is_never_deleted BEFORE DELETE ON promise_forecast
BEGIN
    SELECT RAISE(ABORT, 'forecasts are kept as they were made');
END;

-- How long past waits lasted, the newest first: for parts and for the wood, and for answers to quotes.
CREATE INDEX job_wait_past ON job_wait (waiting_for, ended_at) WHERE ended_at IS NOT NULL;
CREATE INDEX quote_answered ON quote (answered_at) WHERE answer IN ('agreed', 'declined');
-- the jobs that became ready last
CREATE INDEX job_move_to ON job_move (to_stage, moved_at);
