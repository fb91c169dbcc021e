-- Each press of *Print*: what was printed of which record, so that a second print says it is a copy, and a letter
-- that went out counts.
CREATE TABLE paper_print (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('claim-ticket', 'tag', 'shelf-label', 'quote', 'sheet', 'receipt', 'care-letter',
        'collection-letter')),
    job_id BLOB REFERENCES job (id),
    quote_id BLOB REFERENCES quote (id),
    instrument_id BLOB REFERENCES instrument (id),
    printed_at INTEGER NOT NULL,
    staff_id BLOB REFERENCES staff (id),
    CHECK ((quote_id IS NOT NULL) = (kind = 'quote')),
    CHECK ((instrument_id IS NOT NULL) = (kind = 'care-letter')),
    CHECK ((job_id IS NOT NULL) = (kind NOT IN ('quote', 'care-letter')))
) STRICT;
CREATE INDEX paper_print_job ON paper_print (job_id, kind, printed_at) WHERE job_id IS NOT NULL;
CREATE INDEX paper_print_quote ON paper_print (quote_id, printed_at) WHERE quote_id IS NOT NULL;
CREATE INDEX paper_print_instrument ON paper_print (instrument_id, printed_at) WHERE instrument_id IS NOT NULL;
CREATE TRIGGER paper_print_is_never_changed BEFORE UPDATE ON paper_print
BEGIN
    SELECT RAISE(ABORT, 'prints are append-only');
END;
CREATE TRIGGER paper_print_is_never_deleted BEFORE DELETE ON paper_print
BEGIN
    SELECT RAISE(ABORT, 'prints are append-only');
END;
INSERT INTO paper_print (kind, job_id, quote_id, instrument_id, printed_at, staff_id)
SELECT paper.kind, job.id, quote.id, instrument.id, event.at, event.staff_id
FROM (SELECT 'claim-ticket' AS kind, 'claim ticket printed' AS deed
      UNION ALL SELECT 'tag', 'instrument tag printed'
      UNION ALL SELECT 'shelf-label', 'shelf label printed'
      UNION ALL SELECT 'quote', 'quote printed'
      UNION ALL SELECT 'sheet', 'work-performed sheet printed'
      UNION ALL SELECT 'receipt', 'receipt printed'
      UNION ALL SELECT 'care-letter', 'care letter printed'
      UNION ALL SELECT 'collection-letter', 'collection letter printed') AS paper
JOIN event ON event.deed = paper.deed
LEFT JOIN job ON event.record = 'job' AND job.id = event.record_id
LEFT JOIN quote ON event.record = 'quote' AND quote.id = event.record_id
LEFT JOIN instrument ON event.record = 'instrument' AND instrument.id = event.record_id
WHERE coalesce(job.id, quote.id, instrument.id) IS NOT NULL
ORDER BY event.id;

-- when a yes to reminders was taken back; a later yes empties it
ALTER TABLE customer ADD COLUMN reminders_withdrawn_at INTEGER
    CHECK (reminders_withdrawn_at IS NULL OR reminders_agreed_on IS NULL);
UPDATE customer SET reminders_withdrawn_at =
    (SELECT max(at) FROM event
     WHERE record_id = customer.id AND deed = 'customer changed'
         AND before_json ->> '$.reminders_agreed_on' IS NOT NULL AND after_json ->> '$.reminders_agreed_on' IS NULL)
WHERE reminders_agreed_on IS NULL AND anonymised_on IS NULL;

-- the rod was turned and nothing else was done before the next set: such pairs tell what rods do in this shop
ALTER TABLE reading_draft ADD COLUMN is_rod_alone INTEGER NOT NULL DEFAULT 0 CHECK (is_rod_alone IN (0, 1));
UPDATE reading_draft SET is_rod_alone = 1
WHERE done_steps IN ('["relief-too-much"]', '["relief-too-little"]');
