-- Work that was begun although the plan had stopped before it: which stop was told, and who decided to go on. It is
-- asked once a line and stop.
CREATE TABLE work_past_stop (
    work_line_id BLOB NOT NULL REFERENCES work_line (id) ON DELETE CASCADE,
    stop TEXT NOT NULL CHECK (length(stop) BETWEEN 1 AND 40),
    staff_id BLOB NOT NULL REFERENCES staff (id),
    decided_at INTEGER NOT NULL,
    PRIMARY KEY (work_line_id, stop)
) STRICT;
