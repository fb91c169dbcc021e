-- What a customer drew with a finger or a pen on the tablet: initials under the condition marks, or a name at
-- collection. Strokes as SVG path data in a field of 600 by 200. Append-only; taken out only when the person
-- is forgotten.
CREATE TABLE signature (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    job_id BLOB NOT NULL REFERENCES job (id),
    purpose TEXT NOT NULL CHECK (purpose IN ('condition', 'collection')),
    -- how many condition marks stood there when it was drawn
    marks INTEGER NOT NULL CHECK (marks >= 0),
    strokes TEXT NOT NULL,
    drawn_at INTEGER NOT NULL,
    staff_id BLOB NOT NULL REFERENCES staff (id),
    form_key TEXT NOT NULL UNIQUE
) STRICT;
CREATE INDEX signature_job ON signature (job_id, purpose, drawn_at);
CREATE TRIGGER signature_is_never_changed BEFORE UPDATE ON signature
BEGIN
    SELECT RAISE(ABORT, 'signatures are append-only');
END;
