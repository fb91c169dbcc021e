-- The day's closing: what the book says of each way of paying, what was counted, and why they differ. A closing covers the
-- payments from the number after the last one to the newest, so that each payment is in one closing and no more.
CREATE TABLE day_closing (
    -- 1, 2, 3 without a gap
    number INTEGER PRIMARY KEY NOT NULL CHECK (number >= 1),
    day TEXT NOT NULL CHECK (day LIKE '____-__-__'),
    closed_at INTEGER NOT NULL,
    staff_id BLOB NOT NULL REFERENCES staff (id),
    -- of the payments; the last is one less than the first where there were none
    first_payment INTEGER NOT NULL CHECK (first_payment >= 1),
    last_payment INTEGER NOT NULL CHECK (last_payment >= first_payment - 1),
    -- in the drawer when the day began, and left in it for the next
    float INTEGER NOT NULL CHECK (float >= 0),
    kept INTEGER NOT NULL CHECK (kept >= 0),
    -- taken out of the drawer for something else
    paid_out INTEGER NOT NULL CHECK (paid_out >= 0),
    paid_out_for TEXT NOT NULL CHECK (paid_out = 0 OR length(paid_out_for) > 0),
    form_key TEXT NOT NULL UNIQUE
) STRICT;
CREATE TABLE day_closing_count (
    closing INTEGER NOT NULL REFERENCES day_closing (number),
    method TEXT NOT NULL CHECK (method IN ('cash', 'card', 'transfer')),
    taken INTEGER NOT NULL,
    given_back INTEGER NOT NULL,
    -- what should be there by the book, and what was
    expected INTEGER NOT NULL,
    counted INTEGER NOT NULL,
    explanation TEXT NOT NULL CHECK (counted = expected OR length(explanation) > 0),
    PRIMARY KEY (closing, method)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER day_closing_is_never_changed BEFORE UPDATE ON day_closing
BEGIN
    SELECT RAISE(ABORT, 'closed days stay');
END;
CREATE TRIGGER day_closing_is_never_deleted BEFORE DELETE ON day_closing
BEGIN
    SELECT RAISE(ABORT, 'closed days stay');
END;
CREATE TRIGGER day_closing_count_is_never_changed BEFORE UPDATE ON day_closing_count
BEGIN
    SELECT RAISE(ABORT, 'closed days stay');
END;
CREATE TRIGGER day_closing_count_is_never_deleted BEFORE DELETE ON day_closing_count
BEGIN
    SELECT RAISE(ABORT, 'closed days stay');
END;
CREATE INDEX day_closing_at ON day_closing (closed_at);

-- What a hand-over sold, rate by rate, as it was agreed to then: the bookkeeper's document, whatever is changed later.
CREATE TABLE hand_over_sale (
    hand_over_id INTEGER NOT NULL REFERENCES hand_over (id),
    tax_name TEXT NOT NULL,
    tax_rate INTEGER NOT NULL CHECK (tax_rate BETWEEN 0 AND 100000),
    net INTEGER NOT NULL CHECK (net >= 0),
    tax INTEGER NOT NULL CHECK (tax >= 0),
    PRIMARY KEY (hand_over_id, tax_rate)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER hand_over_sale_is_never_changed BEFORE UPDATE ON hand_over_sale
BEGIN
    SELECT RAISE(ABORT, 'what was sold stays written');
END;
CREATE TRIGGER hand_over_sale_is_never_deleted BEFORE DELETE ON hand_over_sale
BEGIN
    SELECT RAISE(ABORT, 'what was sold stays written');
END;
CREATE INDEX hand_over_at ON hand_over (handed_over_at);
CREATE INDEX hand_over_taken_back ON hand_over (taken_back_at) WHERE taken_back_at IS NOT NULL;
