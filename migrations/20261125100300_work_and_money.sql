-- What the shop offers, what was agreed, what was done, what was paid.

CREATE TABLE service (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    -- the word by which a finding of the setup engine suggests this service
    key TEXT NOT NULL UNIQUE CHECK (length(key) BETWEEN 1 AND 40),
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
    minutes INTEGER NOT NULL CHECK (minutes BETWEEN 0 AND 100000),
    price INTEGER NOT NULL CHECK (price BETWEEN 0 AND 100000000),
    tax_class TEXT NOT NULL CHECK (tax_class IN ('standard', 'reduced', 'none')),
    active INTEGER NOT NULL DEFAULT 1 CHECK (active IN (0, 1)),
    version INTEGER NOT NULL DEFAULT 1
) STRICT;

CREATE TABLE work_line (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    job_id BLOB NOT NULL REFERENCES job (id),
    service_id BLOB REFERENCES service (id),
    position INTEGER NOT NULL CHECK (position >= 1),
    -- the finding that called for it, where one did
    finding TEXT,
    words TEXT NOT NULL CHECK (length(words) BETWEEN 1 AND 500),
    minutes INTEGER NOT NULL CHECK (minutes BETWEEN 0 AND 100000),
    price INTEGER NOT NULL CHECK (price BETWEEN 0 AND 100000000),
    tax_class TEXT NOT NULL CHECK (tax_class IN ('standard', 'reduced', 'none')),
    state TEXT NOT NULL CHECK (state IN ('proposed', 'agreed', 'declined', 'done')),
    -- the owner let this line be done without the customer's yes
    overruled INTEGER NOT NULL DEFAULT 0 CHECK (overruled IN (0, 1)),
    done_by BLOB REFERENCES staff (id),
    done_at INTEGER,
    result TEXT NOT NULL DEFAULT '',
    form_key TEXT NOT NULL,
    version INTEGER NOT NULL DEFAULT 1,
    UNIQUE (job_id, form_key, position),
    CHECK ((state = 'done') = (done_by IS NOT NULL AND done_at IS NOT NULL))
) STRICT;
CREATE INDEX work_line_job ON work_line (job_id, position);

-- A numbered revision. The lines are frozen: what was agreed is what was printed.
CREATE TABLE quote (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    job_id BLOB NOT NULL REFERENCES job (id),
    revision INTEGER NOT NULL CHECK (revision >= 1),
    made_at INTEGER NOT NULL,
    staff_id BLOB NOT NULL REFERENCES staff (id),
    valid_until TEXT NOT NULL CHECK (valid_until LIKE '____-__-__'),
    currency TEXT NOT NULL,
    tax_name TEXT NOT NULL,
    tax_rounding TEXT NOT NULL CHECK (tax_rounding IN ('half-up', 'half-even', 'down')),
    tax_level TEXT NOT NULL CHECK (tax_level IN ('per-line', 'on-total')),
    net INTEGER NOT NULL CHECK (net >= 0),
    tax INTEGER NOT NULL CHECK (tax >= 0),
    total INTEGER NOT NULL CHECK (total = net + tax),
    note TEXT NOT NULL,
    answer TEXT CHECK (answer IN ('agreed', 'declined', 'superseded')),
    answered_at INTEGER,
    answered_how TEXT CHECK (answered_how IN ('counter', 'telephone', 'link')),
    -- who said it, and who wrote it down
    answered_by TEXT NOT NULL DEFAULT '',
    answer_staff_id BLOB REFERENCES staff (id),
    form_key TEXT NOT NULL UNIQUE,
    version INTEGER NOT NULL DEFAULT 1,
    UNIQUE (job_id, revision),
    CHECK ((answer IS NULL) = (answered_at IS NULL))
) STRICT;

CREATE TABLE quote_line (
    quote_id BLOB NOT NULL REFERENCES quote (id),
    position INTEGER NOT NULL CHECK (position >= 1),
    work_line_id BLOB NOT NULL REFERENCES work_line (id),
    words TEXT NOT NULL,
    minutes INTEGER NOT NULL,
    price INTEGER NOT NULL,
    tax_class TEXT NOT NULL CHECK (tax_class IN ('standard', 'reduced', 'none')),
    tax_rate INTEGER NOT NULL CHECK (tax_rate BETWEEN 0 AND 100000),
    PRIMARY KEY (quote_id, position)
) STRICT, WITHOUT ROWID;
CREATE INDEX quote_line_work_line ON quote_line (work_line_id);

-- Corrections are new rows, never edits. A refund is stored with a minus.
CREATE TABLE payment (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    job_id BLOB NOT NULL REFERENCES job (id),
    kind TEXT NOT NULL CHECK (kind IN ('deposit', 'balance', 'refund')),
    method TEXT NOT NULL CHECK (method IN ('cash', 'card', 'transfer')),
    amount INTEGER NOT NULL CHECK (amount <> 0 AND (kind = 'refund') = (amount < 0)),
    taken_at INTEGER NOT NULL,
    staff_id BLOB NOT NULL REFERENCES staff (id),
    note TEXT NOT NULL,
    form_key TEXT NOT NULL UNIQUE
) STRICT;
CREATE INDEX payment_job ON payment (job_id);
CREATE TRIGGER payment_is_never_changed BEFORE UPDATE ON payment
BEGIN
    SELECT RAISE(ABORT, 'payments are append-only');
END;
CREATE TRIGGER payment_is_never_deleted BEFORE DELETE ON payment
BEGIN
    SELECT RAISE(ABORT, 'payments are append-only');
END;
