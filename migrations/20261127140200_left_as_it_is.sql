-- What was seen or heard, was not put right, and leaves the house as it is: with who said so and why. `arrived_at` is
-- the moment the job came to the final check this time, as in check_answer.
CREATE TABLE observation_left (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    job_id BLOB NOT NULL REFERENCES job (id),
    observation_id BLOB NOT NULL REFERENCES observation (id),
    arrived_at INTEGER NOT NULL,
    reason TEXT NOT NULL CHECK (length(reason) >= 1),
    staff_id BLOB NOT NULL REFERENCES staff (id),
    answered_at INTEGER NOT NULL
) STRICT;
CREATE INDEX observation_left_job ON observation_left (job_id, arrived_at, observation_id, id);
CREATE TRIGGER observation_left_is_never_changed BEFORE UPDATE ON observation_left
BEGIN
    SELECT RAISE(ABORT, 'answers of the final check are append-only');
END;
CREATE TRIGGER observation_left_is_never_deleted BEFORE DELETE ON observation_left
BEGIN
    SELECT RAISE(ABORT, 'answers of the final check are append-only');
END;
