-- What the office asks about months and years: each question goes along an index of the days it is about, so that it
-- costs what those days cost, however long the shop has been there.

-- When the instrument became ready, while it is ready or was collected: sent back to the bench, it is not ready.
ALTER TABLE job ADD COLUMN ready_at INTEGER;
UPDATE job SET ready_at = coalesce(
    (SELECT max(moved_at) FROM job_move WHERE job_id = job.id AND to_stage = 'ready'), stage_since)
WHERE stage IN ('ready', 'collected');
CREATE INDEX job_stays ON job (checked_in_at, stage, stage_since, ready_at, staff_id, instrument_id);
CREATE INDEX job_left ON job (stage_since, stage, checked_in_at, id) WHERE is_open = 0;

-- whether a job came back
CREATE INDEX job_earlier ON job (earlier_job_id) WHERE earlier_job_id IS NOT NULL;

-- Since when the job had been at the stage that a move ended.
ALTER TABLE job_move ADD COLUMN from_since INTEGER CHECK (from_since <= moved_at);
DROP TRIGGER job_move_is_never_changed;
UPDATE job_move SET from_since = min(moved_at, coalesce(
    (SELECT earlier.moved_at FROM job_move AS earlier
     WHERE earlier.job_id = job_move.job_id AND earlier.id < job_move.id ORDER BY earlier.id DESC LIMIT 1),
    (SELECT checked_in_at FROM job WHERE job.id = job_move.job_id)));
CREATE TRIGGER job_move_is_never_changed BEFORE UPDATE ON job_move
BEGIN
    SELECT RAISE(ABORT, 'moves are append-only');
END;
CREATE INDEX job_move_at ON job_move (moved_at, from_stage, from_since);

-- What a job owes, kept in the transaction that changes it, so that whoever owes is found without asking every job.
-- The amounts are those of records/balance.rs; a job nobody agreed to pay for and nobody paid on has no row.
CREATE TABLE job_account (
    job_id BLOB PRIMARY KEY NOT NULL REFERENCES job (id),
    -- the newest agreed revision: when, without tax, with tax; null while there is none
    agreed_at INTEGER,
    agreed_net INTEGER NOT NULL DEFAULT 0 CHECK (agreed_net >= 0),
    agreed_total INTEGER NOT NULL DEFAULT 0 CHECK (agreed_total >= agreed_net),
    -- less what was given back
    paid INTEGER NOT NULL DEFAULT 0,
    owed INTEGER NOT NULL GENERATED ALWAYS AS (max(agreed_total - paid, 0)) STORED
) STRICT;
CREATE INDEX job_account_agreed ON job_account (agreed_at, agreed_net, owed);
CREATE INDEX job_account_owed ON job_account (agreed_at, owed, job_id) WHERE owed > 0;
INSERT INTO job_account (job_id, agreed_at, agreed_net, agreed_total, paid)
WITH revision AS (
    SELECT id, job_id, answered_at, tax_level, tax_rounding FROM quote
    WHERE answer = 'agreed' AND revision =
        (SELECT max(revision) FROM quote AS newest WHERE newest.job_id = quote.job_id AND newest.answer = 'agreed')
), taxed AS (
    -- on the total tax is rounded once a rate, else line by line
    SELECT revision.id, tax_rounding, sum(price) AS net, sum(price) * tax_rate AS exact
    FROM revision JOIN quote_line ON quote_line.quote_id = revision.id AND quote_line.answer = 'agreed'
    GROUP BY revision.id, tax_rate, iif(tax_level = 'per-line', position, 0)
), agreed AS (
    SELECT id, sum(net) AS net,
           sum(net + exact / 100000 + CASE tax_rounding
               WHEN 'half-up' THEN exact % 100000 >= 50000
               WHEN 'half-even' THEN
                   exact % 100000 > 50000 OR (exact % 100000 = 50000 AND exact / 100000 % 2 = 1)
               ELSE 0 END) AS total
    FROM taxed GROUP BY id
)
SELECT job.id, revision.answered_at, coalesce(agreed.net, 0), coalesce(agreed.total, 0),
       (SELECT coalesce(sum(amount), 0) FROM payment WHERE payment.job_id = job.id)
FROM job
LEFT JOIN revision ON revision.job_id = job.id
LEFT JOIN agreed ON agreed.id = revision.id
WHERE revision.id IS NOT NULL OR EXISTS (SELECT 1 FROM payment WHERE payment.job_id = job.id);

-- what was quoted, done, paid and worked in some months
CREATE INDEX quote_made ON quote (made_at, job_id, revision, net);
CREATE INDEX work_line_done ON work_line (done_at, service_id, done_by, price, minutes, job_id, id) WHERE state = 'done';
-- which services a job has is read from the index alone
DROP INDEX work_line_job;
CREATE INDEX work_line_job ON work_line (job_id, position, state, service_id);
CREATE INDEX work_line_service ON work_line (service_id, done_at, id) WHERE state = 'done';
-- whether a line has the customer's yes is read from the index alone
DROP INDEX quote_line_work_line;
CREATE INDEX quote_line_work_line ON quote_line (work_line_id, answer);
CREATE INDEX payment_taken ON payment (taken_at, amount);
DROP INDEX labour_entry_started;
CREATE INDEX labour_entry_started ON labour_entry (started_at, ended_at, work_line_id, staff_id, id);

-- What a service takes and costs from a day on. A change is a new row, so that it can be read what the list said when;
-- the row in force stands in the service itself. What was proposed or quoted keeps the figures it was made with.
CREATE TABLE service_price (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    service_id BLOB NOT NULL REFERENCES service (id),
    -- null: from before the list was kept
    from_day TEXT CHECK (from_day LIKE '____-__-__'),
    minutes INTEGER NOT NULL CHECK (minutes BETWEEN 0 AND 100000),
    price INTEGER NOT NULL CHECK (price BETWEEN 0 AND 100000000),
    tax_class TEXT NOT NULL CHECK (tax_class IN ('standard', 'reduced', 'none')),
    -- minutes that the labour clock suggested
    is_suggested INTEGER NOT NULL DEFAULT 0 CHECK (is_suggested IN (0, 1)),
    staff_id BLOB REFERENCES staff (id)
) STRICT;
CREATE INDEX service_price_service ON service_price (service_id, id);
CREATE TRIGGER service_price_is_never_changed BEFORE UPDATE ON service_price
BEGIN
    SELECT RAISE(ABORT, 'the price list is append-only');
END;
CREATE TRIGGER service_price_is_never_deleted BEFORE DELETE ON service_price
BEGIN
    SELECT RAISE(ABORT, 'the price list is append-only');
END;
INSERT INTO service_price (service_id, minutes, price, tax_class)
SELECT id, minutes, price, tax_class FROM service;

-- Lines whose minutes say nothing of their service: left out by hand with a reason, and taken back. The line's time
-- itself stays as it was clocked.
CREATE TABLE minutes_left_out (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    work_line_id BLOB NOT NULL REFERENCES work_line (id),
    reason TEXT NOT NULL CHECK (length(reason) >= 1),
    staff_id BLOB NOT NULL REFERENCES staff (id),
    left_out_at INTEGER NOT NULL,
    taken_back_at INTEGER CHECK (taken_back_at >= left_out_at),
    taken_back_by BLOB REFERENCES staff (id),
    CHECK ((taken_back_at IS NULL) = (taken_back_by IS NULL))
) STRICT;
CREATE UNIQUE INDEX minutes_left_out_now ON minutes_left_out (work_line_id) WHERE taken_back_at IS NULL;
CREATE INDEX minutes_left_out_line ON minutes_left_out (work_line_id);
CREATE TRIGGER minutes_left_out_is_taken_back_once BEFORE UPDATE ON minutes_left_out
WHEN NOT (
    NEW.id = OLD.id AND NEW.work_line_id = OLD.work_line_id AND NEW.staff_id = OLD.staff_id
    AND NEW.left_out_at = OLD.left_out_at
    AND (
        (NEW.reason = OLD.reason AND OLD.taken_back_at IS NULL)
        OR (NEW.reason = 'anonymised' AND NEW.taken_back_at IS OLD.taken_back_at AND NEW.taken_back_by IS OLD.taken_back_by
            AND OLD.work_line_id IN (SELECT id FROM work_line WHERE job_id IN (SELECT id FROM forgotten_job)))
    )
)
BEGIN
    SELECT RAISE(ABORT, 'what was left out is taken back once');
END;
CREATE TRIGGER minutes_left_out_is_never_deleted BEFORE DELETE ON minutes_left_out
BEGIN
    SELECT RAISE(ABORT, 'what was left out is never deleted');
END;

-- the deeds of some days, the newest first
CREATE INDEX event_moment ON event (at);
