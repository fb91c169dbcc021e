-- One index a kind of record. In one index for all, a question about customers first went through every word of every
-- job: it grew with the shop. Prefixes of up to six letters stand in the index, so that half a name costs no more
-- than a whole one.

DROP TRIGGER search_entry_added;
DROP TRIGGER search_entry_removed;
DROP TRIGGER search_entry_changed;
DROP TABLE search;

CREATE VIEW customer_entry AS SELECT id, words FROM search_entry WHERE kind = 'customer';
CREATE VIEW instrument_entry AS SELECT id, words FROM search_entry WHERE kind = 'instrument';
CREATE VIEW job_entry AS SELECT id, words FROM search_entry WHERE kind = 'job';

CREATE VIRTUAL TABLE customer_search USING fts5 (
    words, content = 'customer_entry', content_rowid = 'id',
    tokenize = 'unicode61 remove_diacritics 2', prefix = '1 2 3 4 5 6'
);
CREATE VIRTUAL TABLE instrument_search USING fts5 (
    words, content = 'instrument_entry', content_rowid = 'id',
    tokenize = 'unicode61 remove_diacritics 2', prefix = '1 2 3 4 5 6'
);
CREATE VIRTUAL TABLE job_search USING fts5 (
    words, content = 'job_entry', content_rowid = 'id',
    tokenize = 'unicode61 remove_diacritics 2', prefix = '1 2 3 4 5 6'
);

-- what is taken out leaves no trace in the index: somebody may ask to be forgotten
INSERT INTO customer_search (customer_search, rank) VALUES ('secure-delete', 1);
INSERT INTO instrument_search (instrument_search, rank) VALUES ('secure-delete', 1);
INSERT INTO job_search (job_search, rank) VALUES ('secure-delete', 1);

CREATE TRIGGER customer_entry_added AFTER INSERT ON search_entry WHEN NEW.kind = 'customer'
BEGIN
    INSERT INTO customer_search (rowid, words) VALUES (NEW.id, NEW.words);
END;
CREATE TRIGGER instrument_entry_added AFTER INSERT ON search_entry WHEN NEW.kind = 'instrument'
BEGIN
    INSERT INTO instrument_search (rowid, words) VALUES (NEW.id, NEW.words);
END;
CREATE TRIGGER job_entry_added AFTER INSERT ON search_entry WHEN NEW.kind = 'job'
BEGIN
    INSERT INTO job_search (rowid, words) VALUES (NEW.id, NEW.words);
END;
CREATE TRIGGER customer_entry_removed AFTER DELETE ON search_entry WHEN OLD.kind = 'customer'
BEGIN
    INSERT INTO customer_search (customer_search, rowid, words) VALUES ('delete', OLD.id, OLD.words);
END;
CREATE TRIGGER instrument_entry_removed AFTER DELETE ON search_entry WHEN OLD.kind = 'instrument'
BEGIN
    INSERT INTO instrument_search (instrument_search, rowid, words) VALUES ('delete', OLD.id, OLD.words);
END;
CREATE TRIGGER job_entry_removed AFTER DELETE ON search_entry WHEN OLD.kind = 'job'
BEGIN
    INSERT INTO job_search (job_search, rowid, words) VALUES ('delete', OLD.id, OLD.words);
END;
CREATE TRIGGER customer_entry_changed AFTER UPDATE ON search_entry WHEN NEW.kind = 'customer'
BEGIN
    INSERT INTO customer_search (customer_search, rowid, words) VALUES ('delete', OLD.id, OLD.words);
    INSERT INTO customer_search (rowid, words) VALUES (NEW.id, NEW.words);
END;
CREATE TRIGGER instrument_entry_changed AFTER UPDATE ON search_entry WHEN NEW.kind = 'instrument'
BEGIN
    INSERT INTO instrument_search (instrument_search, rowid, words) VALUES ('delete', OLD.id, OLD.words);
    INSERT INTO instrument_search (rowid, words) VALUES (NEW.id, NEW.words);
END;
CREATE TRIGGER job_entry_changed AFTER UPDATE ON search_entry WHEN NEW.kind = 'job'
BEGIN
    INSERT INTO job_search (job_search, rowid, words) VALUES ('delete', OLD.id, OLD.words);
    INSERT INTO job_search (rowid, words) VALUES (NEW.id, NEW.words);
END;

INSERT INTO customer_search (customer_search) VALUES ('rebuild');
INSERT INTO instrument_search (instrument_search) VALUES ('rebuild');
INSERT INTO job_search (job_search) VALUES ('rebuild');
