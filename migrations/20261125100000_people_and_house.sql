-- The house and the people who work in it.
-- Keys are UUIDv7 blobs, instants are integer microseconds since 1970 UTC, days are civil dates
-- as YYYY-MM-DD text, money is integer minor units, lengths are integer micrometres.

-- One row: what the owner decides about the shop.
CREATE TABLE settings (
    id INTEGER PRIMARY KEY NOT NULL CHECK (id = 1),
    shop_name TEXT NOT NULL CHECK (length(shop_name) BETWEEN 1 AND 200),
    address TEXT NOT NULL,
    telephone TEXT NOT NULL,
    email TEXT NOT NULL,
    time_zone TEXT NOT NULL,
    country TEXT NOT NULL CHECK (length(country) = 2),
    currency TEXT NOT NULL CHECK (length(currency) = 3),
    paper TEXT NOT NULL CHECK (paper IN ('a4', 'letter')),
    length_unit TEXT NOT NULL CHECK (length_unit IN ('mm', 'inch')),
    tax_name TEXT NOT NULL,
    -- thousandths of a percent, so that 8.25 % is the exact integer 8250
    standard_tax_rate INTEGER NOT NULL CHECK (standard_tax_rate BETWEEN 0 AND 100000),
    reduced_tax_rate INTEGER NOT NULL CHECK (reduced_tax_rate BETWEEN 0 AND 100000),
    tax_rounding TEXT NOT NULL CHECK (tax_rounding IN ('half-up', 'half-even', 'down')),
    tax_level TEXT NOT NULL CHECK (tax_level IN ('per-line', 'on-total')),
    quote_valid_days INTEGER NOT NULL CHECK (quote_valid_days BETWEEN 1 AND 365),
    promise_days INTEGER NOT NULL CHECK (promise_days BETWEEN 0 AND 365),
    claim_terms TEXT NOT NULL,
    quote_terms TEXT NOT NULL,
    care_advice TEXT NOT NULL,
    -- the house's target values, the text the owner edits (see seed-data/targets.toml)
    targets TEXT NOT NULL,
    version INTEGER NOT NULL DEFAULT 1
) STRICT;

CREATE TABLE staff (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 80),
    name_folded TEXT NOT NULL UNIQUE,
    is_desk INTEGER NOT NULL CHECK (is_desk IN (0, 1)),
    is_bench INTEGER NOT NULL CHECK (is_bench IN (0, 1)),
    is_owner INTEGER NOT NULL CHECK (is_owner IN (0, 1)),
    password_hash TEXT NOT NULL,
    active INTEGER NOT NULL DEFAULT 1 CHECK (active IN (0, 1)),
    -- throttling lives in the row so that it survives a restart
    failed_sign_ins INTEGER NOT NULL DEFAULT 0 CHECK (failed_sign_ins >= 0),
    blocked_until INTEGER NOT NULL DEFAULT 0,
    created_at INTEGER NOT NULL,
    version INTEGER NOT NULL DEFAULT 1,
    CHECK (is_desk + is_bench + is_owner >= 1)
) STRICT;

-- One row a device. Only the hash of the token is kept: a stolen copy of the file opens no door.
CREATE TABLE session (
    token_hash BLOB PRIMARY KEY NOT NULL CHECK (length(token_hash) = 32),
    staff_id BLOB NOT NULL REFERENCES staff (id),
    created_at INTEGER NOT NULL,
    last_seen_at INTEGER NOT NULL,
    expires_at INTEGER NOT NULL,
    device TEXT NOT NULL
) STRICT;
CREATE INDEX session_staff ON session (staff_id);

-- The one-time code that lets the first person in; gone once it was used.
CREATE TABLE first_start (
    id INTEGER PRIMARY KEY NOT NULL CHECK (id = 1),
    code_hash BLOB NOT NULL CHECK (length(code_hash) = 32)
) STRICT;

-- Who did what to which record, when, with before and after. Append-only: turnaround, audit and
-- "who did this" read it. The integer key keeps the order of the deeds even if the clock steps back.
CREATE TABLE event (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    at INTEGER NOT NULL,
    staff_id BLOB REFERENCES staff (id),
    door TEXT NOT NULL CHECK (door IN ('desk', 'bench', 'office', 'customer', 'command', 'house')),
    deed TEXT NOT NULL,
    record TEXT NOT NULL,
    record_id BLOB,
    before_json TEXT CHECK (before_json IS NULL OR json_valid(before_json)),
    after_json TEXT CHECK (after_json IS NULL OR json_valid(after_json))
) STRICT;
CREATE INDEX event_record ON event (record_id, id);
CREATE INDEX event_at ON event (at);
CREATE TRIGGER event_is_never_changed BEFORE UPDATE ON event
BEGIN
    SELECT RAISE(ABORT, 'events are append-only');
END;
CREATE TRIGGER event_is_never_deleted BEFORE DELETE ON event
BEGIN
    SELECT RAISE(ABORT, 'events are append-only');
END;
