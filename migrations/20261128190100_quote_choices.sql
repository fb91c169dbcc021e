-- A quote lets its reader decide: alternatives of which one is chosen, the reason of each line, what is taken off, what is
-- to be paid before; and it keeps each answer with who heard it and what was shown.

-- the alternative a line belongs to, such as "The setup"; empty: whichever is chosen
ALTER TABLE work_line ADD COLUMN alternative TEXT NOT NULL DEFAULT '' CHECK (length(alternative) <= 60);

ALTER TABLE quote_line ADD COLUMN alternative TEXT NOT NULL DEFAULT '';
-- what was found, in words for the customer
ALTER TABLE quote_line ADD COLUMN reason TEXT NOT NULL DEFAULT '';
-- taken off the price before tax
ALTER TABLE quote_line ADD COLUMN discount INTEGER NOT NULL DEFAULT 0 CHECK (discount >= 0);

ALTER TABLE quote ADD COLUMN prices_include_tax INTEGER NOT NULL DEFAULT 0 CHECK (prices_include_tax IN (0, 1));
ALTER TABLE quote ADD COLUMN tax_number TEXT NOT NULL DEFAULT '';
ALTER TABLE quote ADD COLUMN discount_for TEXT NOT NULL DEFAULT '';
ALTER TABLE quote ADD COLUMN deposit_asked INTEGER NOT NULL DEFAULT 0 CHECK (deposit_asked >= 0);
-- an answer can come in more ways: the column is made anew with the longer list
DROP INDEX quote_answered;
ALTER TABLE quote RENAME COLUMN answered_how TO answered_how_before;
ALTER TABLE quote ADD COLUMN answered_how TEXT
    CHECK (answered_how IN ('counter', 'telephone', 'e-mail', 'letter', 'link', 'margin'));
UPDATE quote SET answered_how = answered_how_before;
ALTER TABLE quote DROP COLUMN answered_how_before;
CREATE INDEX quote_answered ON quote (answered_at) WHERE answer IN ('agreed', 'declined');

-- Each answer to a quote, and each question asked about it, as it came.
CREATE TABLE quote_answer (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    quote_id BLOB NOT NULL REFERENCES quote (id),
    said TEXT NOT NULL CHECK (said IN ('agreed', 'declined', 'asked')),
    how TEXT NOT NULL CHECK (how IN ('counter', 'telephone', 'e-mail', 'letter', 'link', 'margin')),
    -- who said it, and in which words where they were written down
    answered_by TEXT NOT NULL,
    words TEXT NOT NULL,
    -- who heard it; null where it came by the private page
    heard_by BLOB REFERENCES staff (id),
    -- what was shown: the lines said yes to, with their prices, and what they come to with tax
    shown TEXT NOT NULL CHECK (json_valid(shown)),
    shown_total INTEGER NOT NULL CHECK (shown_total >= 0),
    answered_at INTEGER NOT NULL
) STRICT;
CREATE INDEX quote_answer_quote ON quote_answer (quote_id, id);
CREATE TRIGGER quote_answer_is_never_changed BEFORE UPDATE ON quote_answer
WHEN NOT (
    NEW.answered_by = '' AND NEW.words = ''
    AND OLD.quote_id IN (SELECT id FROM quote WHERE job_id IN (SELECT id FROM forgotten_job))
    AND NEW.id = OLD.id AND NEW.quote_id = OLD.quote_id AND NEW.said = OLD.said AND NEW.how = OLD.how
    AND NEW.heard_by IS OLD.heard_by AND NEW.shown = OLD.shown AND NEW.shown_total = OLD.shown_total
    AND NEW.answered_at = OLD.answered_at
)
BEGIN
    SELECT RAISE(ABORT, 'answers are append-only');
END;
CREATE TRIGGER quote_answer_is_never_deleted BEFORE DELETE ON quote_answer
BEGIN
    SELECT RAISE(ABORT, 'answers are append-only');
END;

-- Whether prices are those the customer pays, the number under which the shop pays tax, and how far above what was
-- agreed to work may go without a new answer, in thousandths of a percent. Local law may allow nothing.
ALTER TABLE settings ADD COLUMN prices_include_tax INTEGER NOT NULL DEFAULT 0 CHECK (prices_include_tax IN (0, 1));
ALTER TABLE settings ADD COLUMN tax_number TEXT NOT NULL DEFAULT '' CHECK (length(tax_number) <= 60);
ALTER TABLE settings ADD COLUMN quote_margin INTEGER NOT NULL DEFAULT 0 CHECK (quote_margin BETWEEN 0 AND 15000);
