-- One search over customers, instruments and jobs: full text with prefixes, accents folded. Kept up by
-- triggers, so that whatever writes a record also makes it findable, in the same transaction.

-- What each record is found by. Its own integer key: implicit row ids may change when a backup is packed.
CREATE TABLE search_entry (
    id INTEGER PRIMARY KEY NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('customer', 'instrument', 'job')),
    record_id BLOB NOT NULL UNIQUE,
    words TEXT NOT NULL
) STRICT;

CREATE VIRTUAL TABLE search USING fts5 (
    kind, words,
    content = 'search_entry', content_rowid = 'id',
    tokenize = 'unicode61 remove_diacritics 2', prefix = '1 2 3'
);

-- what is taken out leaves no trace in the index: somebody may ask to be forgotten
INSERT INTO search (search, rank) VALUES ('secure-delete', 1);

CREATE TRIGGER search_entry_added AFTER INSERT ON search_entry
BEGIN
    INSERT INTO search (rowid, kind, words) VALUES (NEW.id, NEW.kind, NEW.words);
END;
CREATE TRIGGER search_entry_removed AFTER DELETE ON search_entry
BEGIN
    INSERT INTO search (search, rowid, kind, words) VALUES ('delete', OLD.id, OLD.kind, OLD.words);
END;
CREATE TRIGGER search_entry_changed AFTER UPDATE ON search_entry
BEGIN
    INSERT INTO search (search, rowid, kind, words) VALUES ('delete', OLD.id, OLD.kind, OLD.words);
    INSERT INTO search (rowid, kind, words) VALUES (NEW.id, NEW.kind, NEW.words);
END;

-- Telephones stand as typed, as E.164, and backwards after an r: spellings differ in front (+44, 0044, 0),
-- so a number is found from its end by a prefix of its reverse.
CREATE VIEW customer_words AS
SELECT id,
    name_folded || ' ' || email || ' ' || telephone_digits || ' ' || coalesce(ltrim(telephone_e164, '+'), '')
    || iif(telephone_digits = '', '',
        ' r' || substr(telephone_digits, -1, 1) || substr(telephone_digits, -2, 1) || substr(telephone_digits, -3, 1)
        || substr(telephone_digits, -4, 1) || substr(telephone_digits, -5, 1) || substr(telephone_digits, -6, 1)
        || substr(telephone_digits, -7, 1) || substr(telephone_digits, -8, 1) || substr(telephone_digits, -9, 1)) AS words
FROM customer;

-- a serial is found with and without its hyphens and blanks
CREATE VIEW instrument_words AS
SELECT id,
    maker || ' ' || model || ' ' || serial || ' ' || replace(replace(serial, '-', ''), ' ', '') || ' ' || family || ' '
    || finish || ' ' || coalesce(year, '') AS words
FROM instrument;

-- 26-0417 is also found as 260417 and as 417
CREATE VIEW job_words AS
SELECT id, number || ' ' || replace(number, '-', '') || ' ' || serial || ' ' || complaint AS words
FROM job;

INSERT INTO search_entry (kind, record_id, words) SELECT 'customer', id, words FROM customer_words;
INSERT INTO search_entry (kind, record_id, words) SELECT 'instrument', id, words FROM instrument_words;
INSERT INTO search_entry (kind, record_id, words) SELECT 'job', id, words FROM job_words;

CREATE TRIGGER customer_becomes_findable AFTER INSERT ON customer
BEGIN
    INSERT INTO search_entry (kind, record_id, words) SELECT 'customer', id, words FROM customer_words WHERE id = NEW.id;
END;
CREATE TRIGGER customer_stays_findable AFTER UPDATE OF name_folded, email, telephone_digits, telephone_e164 ON customer
BEGIN
    UPDATE search_entry SET words = (SELECT words FROM customer_words WHERE id = NEW.id) WHERE record_id = NEW.id;
END;
CREATE TRIGGER instrument_becomes_findable AFTER INSERT ON instrument
BEGIN
    INSERT INTO search_entry (kind, record_id, words) SELECT 'instrument', id, words FROM instrument_words WHERE id = NEW.id;
END;
CREATE TRIGGER instrument_stays_findable AFTER UPDATE OF maker, model, serial, family, finish, year ON instrument
BEGIN
    UPDATE search_entry SET words = (SELECT words FROM instrument_words WHERE id = NEW.id) WHERE record_id = NEW.id;
END;
CREATE TRIGGER job_becomes_findable AFTER INSERT ON job
BEGIN
    INSERT INTO search_entry (kind, record_id, words) SELECT 'job', id, words FROM job_words WHERE id = NEW.id;
END;
CREATE TRIGGER job_stays_findable AFTER UPDATE OF complaint ON job
BEGIN
    UPDATE search_entry SET words = (SELECT words FROM job_words WHERE id = NEW.id) WHERE record_id = NEW.id;
END;
