-- What somebody typed into a form and has not sent: kept for them alone, so that a tablet may die and a session end.
-- A row whose form was sent stays without its words, so that a draft that arrives late is known to be late.
CREATE TABLE unsent_form (
    staff_id BLOB NOT NULL REFERENCES staff (id),
    -- where the form goes to, such as '/desk/check-in'
    form TEXT NOT NULL CHECK (length(form) BETWEEN 1 AND 200),
    -- the form's key against double presses, or the version it was opened with
    form_key TEXT NOT NULL,
    -- as a browser sends it
    fields TEXT NOT NULL,
    is_sent INTEGER NOT NULL CHECK (is_sent IN (0, 1)),
    saved_at INTEGER NOT NULL,
    PRIMARY KEY (staff_id, form),
    CHECK (is_sent = 0 OR fields = '')
) STRICT;
CREATE INDEX unsent_form_saved ON unsent_form (saved_at);
