-- What the owner of a new shop went through, so that it is not asked again; a shop that was here before has begun.
CREATE TABLE first_hour (
    step TEXT PRIMARY KEY NOT NULL CHECK (step IN ('shop', 'money', 'people', 'hours', 'targets')),
    done_at INTEGER NOT NULL,
    staff_id BLOB REFERENCES staff (id)
) STRICT;
INSERT INTO first_hour (step, done_at)
SELECT step.value, 0 FROM json_each('["shop", "money", "people", "hours", "targets"]') AS step
WHERE EXISTS (SELECT 1 FROM settings);

-- The address under which customers' telephones reach this computer; empty where none does.
ALTER TABLE settings ADD COLUMN public_address TEXT NOT NULL DEFAULT '' CHECK (length(public_address) <= 200);
