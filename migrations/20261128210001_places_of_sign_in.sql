-- From where a person signed in rightly, and how often wrongly since: whoever guesses their name elsewhere does not keep
-- them out. A place nobody signed in from for ninety days is forgotten.
CREATE TABLE sign_in_place (
    staff_id BLOB NOT NULL REFERENCES staff (id),
    address TEXT NOT NULL,
    right_at INTEGER NOT NULL,
    failed INTEGER NOT NULL DEFAULT 0 CHECK (failed >= 0),
    blocked_until INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (staff_id, address)
) STRICT, WITHOUT ROWID;
CREATE INDEX sign_in_place_right ON sign_in_place (right_at);
