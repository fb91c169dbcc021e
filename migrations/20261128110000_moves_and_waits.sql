-- What a job went through is read here and nowhere in the words of the events: each move between stages, each time it
-- was set aside, and when work was opened again.

CREATE TABLE job_move (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    job_id BLOB NOT NULL REFERENCES job (id),
    from_stage TEXT NOT NULL CHECK (from_stage IN ('checked-in', 'measured', 'quoted', 'agreed', 'on-the-bench',
        'final-check', 'ready', 'collected', 'closed-unrepaired')),
    to_stage TEXT NOT NULL CHECK (to_stage IN ('checked-in', 'measured', 'quoted', 'agreed', 'on-the-bench',
        'final-check', 'ready', 'collected', 'closed-unrepaired')),
    moved_at INTEGER NOT NULL
) STRICT;
CREATE INDEX job_move_job ON job_move (job_id, to_stage, moved_at);
CREATE TRIGGER job_move_is_never_changed BEFORE UPDATE ON job_move
BEGIN
    SELECT RAISE(ABORT, 'moves are append-only');
END;
CREATE TRIGGER job_move_is_never_deleted BEFORE DELETE ON job_move
BEGIN
    SELECT RAISE(ABORT, 'moves are append-only');
END;
INSERT INTO job_move (job_id, from_stage, to_stage, moved_at)
SELECT job.id, event.before_json ->> '$.stage', event.after_json ->> '$.stage', event.at
FROM event JOIN job ON job.id = event.record_id
WHERE event.deed = 'stage moved' AND event.before_json ->> '$.stage' IS NOT NULL
    AND event.after_json ->> '$.stage' IS NOT NULL
ORDER BY event.id;

-- A stretch of waiting. The reason stands on the job while it waits, and in the events afterwards.
CREATE TABLE job_wait (
    id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
    job_id BLOB NOT NULL REFERENCES job (id),
    -- null: written down before this table was made, and the customer was forgotten before that
    waiting_for TEXT CHECK (waiting_for IN ('part', 'customer', 'wood')),
    begun_at INTEGER NOT NULL,
    ended_at INTEGER CHECK (ended_at >= begun_at)
) STRICT;
CREATE UNIQUE INDEX job_wait_under_way ON job_wait (job_id) WHERE ended_at IS NULL;
CREATE INDEX job_wait_job ON job_wait (job_id, ended_at);
CREATE TRIGGER job_wait_is_ended_once BEFORE UPDATE ON job_wait
WHEN OLD.ended_at IS NOT NULL OR NEW.id <> OLD.id OR NEW.job_id <> OLD.job_id OR NEW.begun_at <> OLD.begun_at
    OR NEW.waiting_for IS NOT OLD.waiting_for
BEGIN
    SELECT RAISE(ABORT, 'a stretch of waiting is ended once');
END;
CREATE TRIGGER job_wait_is_never_deleted BEFORE DELETE ON job_wait
BEGIN
    SELECT RAISE(ABORT, 'stretches of waiting are never deleted');
END;
-- a wait ended when the job was taken up, set aside anew or moved; one that still runs has no end
INSERT INTO job_wait (job_id, waiting_for, begun_at, ended_at)
SELECT job.id, iif(event.after_json ->> '$[0]' IN ('part', 'customer', 'wood'), event.after_json ->> '$[0]', NULL),
    event.at,
    coalesce(
        (SELECT max(next.at, event.at) FROM event AS next
         WHERE next.record_id = event.record_id AND next.id > event.id
             AND next.deed IN ('set aside to wait', 'taken up again', 'stage moved')
         ORDER BY next.id LIMIT 1),
        iif(job.waiting_for IS NULL, event.at, NULL))
FROM event JOIN job ON job.id = event.record_id
WHERE event.deed = 'set aside to wait'
ORDER BY event.id;
INSERT INTO job_wait (job_id, waiting_for, begun_at)
SELECT id, waiting_for, stage_since FROM job
WHERE waiting_for IS NOT NULL AND id NOT IN (SELECT job_id FROM job_wait WHERE ended_at IS NULL);

-- when a line that was ticked off was last opened again: what was answered of the work before is asked anew
ALTER TABLE job ADD COLUMN work_reopened_at INTEGER;
UPDATE job SET work_reopened_at =
    (SELECT max(at) FROM event WHERE record_id = job.id AND deed = 'work line opened again');
