-- When the counter is open, in the owner's words: on the customer's page.
ALTER TABLE telling_settings ADD COLUMN opening_hours TEXT NOT NULL DEFAULT '' CHECK (length(opening_hours) <= 1000);
