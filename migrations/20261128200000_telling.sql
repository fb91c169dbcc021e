-- What customers were told, or could not be: written once. One list says who is to be told what, and when again.
CREATE TABLE telling (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    matter TEXT NOT NULL CHECK (matter IN ('question', 'promise', 'late', 'answer', 'ready', 'quote', 'money', 'care')),
    -- of which job; care that is due belongs to an instrument
    job_id BLOB REFERENCES job (id),
    instrument_id BLOB REFERENCES instrument (id),
    how TEXT NOT NULL CHECK (how IN ('telephone', 'email', 'letter', 'counter')),
    outcome TEXT NOT NULL CHECK (outcome IN ('told', 'left-word', 'no-answer', 'wrong-number')),
    said_at INTEGER NOT NULL,
    -- null: the house sent a message by itself
    staff_id BLOB REFERENCES staff (id),
    note TEXT NOT NULL DEFAULT '',
    -- a wrong number is wrong until the customer's record is another
    customer_version INTEGER NOT NULL,
    form_key TEXT NOT NULL UNIQUE,
    CHECK ((job_id IS NULL) = (matter = 'care')),
    CHECK ((instrument_id IS NULL) = (matter <> 'care'))
) STRICT;
CREATE INDEX telling_job ON telling (job_id, matter, id) WHERE job_id IS NOT NULL;
CREATE INDEX telling_instrument ON telling (instrument_id, id) WHERE instrument_id IS NOT NULL;
CREATE TRIGGER telling_is_never_changed BEFORE UPDATE ON telling
WHEN NOT (
    NEW.note = '' AND (
        OLD.job_id IN (SELECT id FROM forgotten_job)
        OR OLD.instrument_id IN (
            SELECT instrument.id FROM instrument JOIN customer ON customer.id = instrument.customer_id
            WHERE customer.anonymised_on IS NOT NULL))
    AND NEW.id = OLD.id AND NEW.matter = OLD.matter AND NEW.job_id IS OLD.job_id
    AND NEW.instrument_id IS OLD.instrument_id AND NEW.how = OLD.how AND NEW.outcome = OLD.outcome
    AND NEW.said_at = OLD.said_at AND NEW.staff_id IS OLD.staff_id AND NEW.customer_version = OLD.customer_version
    AND NEW.form_key = OLD.form_key
)
BEGIN
    SELECT RAISE(ABORT, 'what was told is append-only');
END;
CREATE TRIGGER telling_is_never_deleted BEFORE DELETE ON telling
BEGIN
    SELECT RAISE(ABORT, 'what was told is append-only');
END;

-- a letter counts once it is said to be sent; those printed until now were taken for sent
INSERT INTO telling (matter, job_id, how, outcome, said_at, staff_id, customer_version, form_key)
SELECT 'ready', job_id, 'letter', 'left-word', printed_at, staff_id, 0, 'print ' || id
FROM paper_print WHERE kind = 'collection-letter' ORDER BY id;

-- Days until somebody is called again, as the shop likes it.
CREATE TABLE telling_settings (
    id INTEGER PRIMARY KEY NOT NULL CHECK (id = 1),
    after_told INTEGER NOT NULL CHECK (after_told BETWEEN 1 AND 365),
    after_word_left INTEGER NOT NULL CHECK (after_word_left BETWEEN 1 AND 365),
    after_no_answer INTEGER NOT NULL CHECK (after_no_answer BETWEEN 1 AND 365),
    version INTEGER NOT NULL DEFAULT 1
) STRICT;
INSERT INTO telling_settings (id, after_told, after_word_left, after_no_answer) VALUES (1, 7, 3, 1);
