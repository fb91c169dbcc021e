-- The ledger: payments carry a number without a gap, and what was mistyped is taken back by a row of its own. The table
-- is made anew, because the sign of an amount now depends on whether the row takes another one back.
DROP TRIGGER payment_is_never_changed;
DROP TRIGGER payment_is_never_deleted;
DROP INDEX payment_taken;
DROP INDEX payment_job;
ALTER TABLE payment RENAME TO payment_before;
CREATE TABLE payment (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    -- 1, 2, 3 in the order in which they were written down; given in the transaction that writes the row
    number INTEGER NOT NULL UNIQUE CHECK (number >= 1),
    job_id BLOB NOT NULL REFERENCES job (id),
    kind TEXT NOT NULL CHECK (kind IN ('deposit', 'balance', 'refund')),
    method TEXT NOT NULL CHECK (method IN ('cash', 'card', 'transfer')),
    -- money that came has a plus and money given back a minus; in a row that takes another back it is the other way round
    amount INTEGER NOT NULL CHECK (amount <> 0),
    -- the mistyped payment that this row takes back whole, with its kind and method
    corrects BLOB UNIQUE REFERENCES payment (id),
    taken_at INTEGER NOT NULL,
    staff_id BLOB NOT NULL REFERENCES staff (id),
    -- of a row that takes another back: why
    note TEXT NOT NULL,
    form_key TEXT NOT NULL UNIQUE,
    CHECK ((corrects IS NULL) = ((kind = 'refund') = (amount < 0)))
) STRICT;
INSERT INTO payment (id, number, job_id, kind, method, amount, taken_at, staff_id, note, form_key)
SELECT id, row_number() OVER (ORDER BY taken_at, id), job_id, kind, method, amount, taken_at, staff_id, note, form_key
FROM payment_before;
DROP TABLE payment_before;
CREATE INDEX payment_job ON payment (job_id);
CREATE INDEX payment_taken ON payment (taken_at, kind, amount);
CREATE TRIGGER payment_is_never_changed BEFORE UPDATE ON payment
WHEN NOT (
    NEW.note = '' AND OLD.job_id IN (SELECT id FROM forgotten_job)
    AND NEW.id = OLD.id AND NEW.number = OLD.number AND NEW.job_id = OLD.job_id AND NEW.kind = OLD.kind
    AND NEW.method = OLD.method AND NEW.amount = OLD.amount AND NEW.corrects IS OLD.corrects
    AND NEW.taken_at = OLD.taken_at AND NEW.staff_id = OLD.staff_id AND NEW.form_key = OLD.form_key
)
BEGIN
    SELECT RAISE(ABORT, 'payments are append-only');
END;
CREATE TRIGGER payment_is_never_deleted BEFORE DELETE ON payment
BEGIN
    SELECT RAISE(ABORT, 'payments are append-only');
END;

-- Jobs with money open either way: owed, held, or to be given back.
CREATE INDEX job_account_open ON job_account (job_id, agreed_at, agreed_total, paid) WHERE agreed_total <> paid;

-- What a customer said to the quotes of a job, asked wherever it matters whether money is held or too much.
CREATE VIEW job_answer AS
SELECT job.id AS job_id, job.is_open,
       EXISTS (SELECT 1 FROM quote WHERE job_id = job.id AND answer = 'agreed') AS has_agreed,
       EXISTS (SELECT 1 FROM quote WHERE job_id = job.id AND answer = 'declined'
               AND revision = (SELECT max(revision) FROM quote WHERE job_id = job.id)) AS has_declined
FROM job;

-- Each time an instrument went out of the door with its owner, and what was open then.
CREATE TABLE hand_over (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    job_id BLOB NOT NULL REFERENCES job (id),
    handed_over_at INTEGER NOT NULL,
    staff_id BLOB REFERENCES staff (id),
    -- who came for it, where that was not the owner
    collected_by TEXT NOT NULL,
    -- owed by the customer, or with a minus to be given back; and how that is to be settled
    open_amount INTEGER NOT NULL,
    open_words TEXT NOT NULL,
    taken_back_at INTEGER CHECK (taken_back_at >= handed_over_at),
    taken_back_by BLOB REFERENCES staff (id),
    taken_back_reason TEXT,
    CHECK (open_amount = 0 OR length(open_words) > 0),
    CHECK ((taken_back_at IS NULL) = (taken_back_reason IS NULL))
) STRICT;
CREATE INDEX hand_over_job ON hand_over (job_id, id);
CREATE TRIGGER hand_over_is_taken_back_once BEFORE UPDATE ON hand_over
WHEN NOT (
    NEW.id = OLD.id AND NEW.job_id = OLD.job_id AND NEW.handed_over_at = OLD.handed_over_at
    AND NEW.staff_id IS OLD.staff_id AND NEW.open_amount = OLD.open_amount
    AND (
        (OLD.taken_back_at IS NULL AND NEW.collected_by = OLD.collected_by AND NEW.open_words = OLD.open_words)
        OR (NEW.taken_back_at IS OLD.taken_back_at AND NEW.taken_back_by IS OLD.taken_back_by
            AND OLD.job_id IN (SELECT id FROM forgotten_job))
    )
)
BEGIN
    SELECT RAISE(ABORT, 'what was handed over stays written');
END;
CREATE TRIGGER hand_over_is_never_deleted BEFORE DELETE ON hand_over
BEGIN
    SELECT RAISE(ABORT, 'what was handed over stays written');
END;
