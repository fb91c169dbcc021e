-- How the shop prints labels, and when it writes about instruments nobody collects.
CREATE TABLE paper_settings (
    id INTEGER PRIMARY KEY NOT NULL CHECK (id = 1),
    label TEXT NOT NULL CHECK (label IN ('roll-62', 'four-by-six')),
    -- days after the job was ready, rising, one letter each; JSON
    letter_days TEXT NOT NULL CHECK (json_valid(letter_days)),
    letter_words TEXT NOT NULL,
    version INTEGER NOT NULL DEFAULT 1
) STRICT;
INSERT INTO paper_settings (id, label, letter_days, letter_words) VALUES (1, 'roll-62', '[14,30,60]',
'Your instrument is ready and waits for you. Please collect it, or call us so that we can keep it for you. What we may charge for storage, and what happens to instruments nobody collects, follows the local law and the notices it asks for.');

-- the day view asks for these
CREATE INDEX day_view_check_ins ON job (checked_in_at);
CREATE INDEX day_view_quotes ON quote (made_at) WHERE answer IS NULL;
