-- A mark is sent once, and a slip is taken back; its number is not given again. Numbers and words stay on record.
ALTER TABLE condition_mark ADD COLUMN form_key TEXT;
ALTER TABLE condition_mark ADD COLUMN taken_back_at INTEGER;
CREATE UNIQUE INDEX condition_mark_form_key ON condition_mark (form_key) WHERE form_key IS NOT NULL;

-- A file from elsewhere holds people's data: it goes once it has done its work, or after a month.
ALTER TABLE import ADD COLUMN refused_saved_at INTEGER;
ALTER TABLE import ADD COLUMN emptied_at INTEGER;

-- a serial is looked for over all owners before a second record is made, however it is spaced
DROP INDEX instrument_serial;
CREATE INDEX instrument_serial ON instrument (replace(replace(lower(serial), '-', ''), ' ', '')) WHERE serial <> '';

-- nothing asks these
DROP INDEX event_at;
DROP INDEX customer_telephone;
DROP INDEX change_of_hands_to;
DROP INDEX job_earlier;
DROP INDEX photo_condition_mark;
DROP INDEX plan_reading_set;
