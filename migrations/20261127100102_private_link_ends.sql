-- The customer's private link ends some days after the job left the house, and can be made anew: the number goes
-- into the token, so the old one leads nowhere.
ALTER TABLE settings ADD COLUMN link_days INTEGER NOT NULL DEFAULT 90 CHECK (link_days BETWEEN 1 AND 3650);
ALTER TABLE job ADD COLUMN link_number INTEGER NOT NULL DEFAULT 0 CHECK (link_number >= 0);
ALTER TABLE job ADD COLUMN link_made_at INTEGER;
