-- Two records of one person become one, an instrument changes hands on a day, and a person can be forgotten.

-- A merged record stays, so that its key, on an old paper or in an old event, still leads to the person.
ALTER TABLE customer ADD COLUMN merged_into BLOB REFERENCES customer (id);
-- Put away: found last, offered nowhere.
ALTER TABLE customer ADD COLUMN archived_on TEXT CHECK (archived_on IS NULL OR archived_on LIKE '____-__-__');
ALTER TABLE instrument ADD COLUMN archived_on TEXT CHECK (archived_on IS NULL OR archived_on LIKE '____-__-__');
ALTER TABLE customer ADD COLUMN anonymised_on TEXT CHECK (anonymised_on IS NULL OR anonymised_on LIKE '____-__-__');
CREATE INDEX customer_merged ON customer (merged_into) WHERE merged_into IS NOT NULL;
CREATE INDEX customer_email ON customer (email COLLATE NOCASE) WHERE email <> '';

CREATE TRIGGER merged_customer_is_found_no_more AFTER UPDATE OF merged_into ON customer WHEN NEW.merged_into IS NOT NULL
BEGIN
    DELETE FROM search_entry WHERE record_id = NEW.id;
END;

-- Append-only: whose an instrument was, until which day.
CREATE TABLE change_of_hands (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    instrument_id BLOB NOT NULL REFERENCES instrument (id),
    from_customer_id BLOB NOT NULL REFERENCES customer (id),
    to_customer_id BLOB NOT NULL REFERENCES customer (id),
    on_day TEXT NOT NULL CHECK (on_day LIKE '____-__-__'),
    noted_at INTEGER NOT NULL,
    staff_id BLOB REFERENCES staff (id),
    CHECK (from_customer_id <> to_customer_id)
) STRICT;
CREATE INDEX change_of_hands_instrument ON change_of_hands (instrument_id, on_day);
CREATE INDEX change_of_hands_from ON change_of_hands (from_customer_id);
CREATE INDEX change_of_hands_to ON change_of_hands (to_customer_id);

-- Events stay append-only, with one opening: personal words may be taken out of one, and nothing put in.
DROP TRIGGER event_is_never_changed;
CREATE TRIGGER event_is_never_changed BEFORE UPDATE ON event
WHEN NOT (
    NEW.id = OLD.id AND NEW.at = OLD.at AND NEW.staff_id IS OLD.staff_id AND NEW.door = OLD.door AND NEW.deed = OLD.deed
    AND NEW.record = OLD.record AND NEW.record_id IS OLD.record_id
    AND (NEW.before_json IS OLD.before_json OR NEW.before_json IS '"anonymised"')
    AND (NEW.after_json IS OLD.after_json OR NEW.after_json IS '"anonymised"')
)
BEGIN
    SELECT RAISE(ABORT, 'events are append-only');
END;
