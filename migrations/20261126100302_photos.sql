-- Photographs of a job. The picture itself is a file beside this one, named by the hash of what it holds;
-- a row is never deleted, a photo that is not wanted is set aside.

CREATE TABLE photo (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    job_id BLOB NOT NULL REFERENCES job (id),
    condition_mark_id BLOB REFERENCES condition_mark (id),
    -- SHA-256 of the re-encoded picture and of its small version
    sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
    small_sha256 BLOB NOT NULL CHECK (length(small_sha256) = 32),
    width INTEGER NOT NULL CHECK (width >= 1),
    height INTEGER NOT NULL CHECK (height >= 1),
    bytes INTEGER NOT NULL CHECK (bytes >= 1),
    caption TEXT NOT NULL CHECK (length(caption) <= 200),
    -- shown on the customer's private page
    for_customer INTEGER NOT NULL DEFAULT 0 CHECK (for_customer IN (0, 1)),
    set_aside INTEGER NOT NULL DEFAULT 0 CHECK (set_aside IN (0, 1)),
    staff_id BLOB NOT NULL REFERENCES staff (id),
    added_at INTEGER NOT NULL,
    form_key TEXT NOT NULL UNIQUE,
    version INTEGER NOT NULL DEFAULT 1
) STRICT;
CREATE INDEX photo_job ON photo (job_id, added_at);
CREATE INDEX photo_condition_mark ON photo (condition_mark_id) WHERE condition_mark_id IS NOT NULL;
CREATE TRIGGER photo_is_never_deleted BEFORE DELETE ON photo
BEGIN
    SELECT RAISE(ABORT, 'photos are set aside, never deleted');
END;
