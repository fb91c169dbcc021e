-- What the yearly care letter says, in the shop's own words.
ALTER TABLE paper_settings ADD COLUMN care_words TEXT NOT NULL DEFAULT
'Once a year an instrument needs a little attention, so that nothing wears out early. Come by, or call us and we find a day.';
