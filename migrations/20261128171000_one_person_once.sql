-- What people are called beside their name, and more numbers than one, each with what it is ("work", "her brother").
ALTER TABLE customer ADD COLUMN nickname TEXT NOT NULL DEFAULT '' CHECK (length(nickname) <= 200);
ALTER TABLE customer ADD COLUMN telephone_label TEXT NOT NULL DEFAULT '';
-- [{"label": "work", "number": "01632 960101"}], in order
ALTER TABLE customer ADD COLUMN more_telephones TEXT NOT NULL DEFAULT '[]' CHECK (json_valid(more_telephones));
-- other spellings, the nickname and the other numbers as they are looked for: `records::likeness` writes it
ALTER TABLE customer ADD COLUMN also_found_as TEXT NOT NULL DEFAULT '';
UPDATE customer SET also_found_as =
    replace(replace(replace(replace(replace(replace(name_folded, '''', ''), '-', ' '), 'ae', 'a'), 'oe', 'o'), 'ue', 'u'), 'aa', 'a')
WHERE anonymised_on IS NULL;
UPDATE customer SET also_found_as = '' WHERE also_found_as = name_folded;

DROP TRIGGER customer_stays_findable;
DROP VIEW customer_words;
DROP VIEW customer_own_words;
CREATE VIEW customer_own_words AS
SELECT id, merged_into, name_folded || ' ' || email || ' ' || digits || ' ' || ltrim(e164, '+')
    || iif(digits = '', '', ' r' || substr(digits, -1, 1) || substr(digits, -2, 1) || substr(digits, -3, 1) || substr(digits, -4, 1)
        || substr(digits, -5, 1) || substr(digits, -6, 1) || substr(digits, -7, 1) || substr(digits, -8, 1) || substr(digits, -9, 1))
    || iif(e164 = '', '', ' r' || substr(e164, -1, 1) || substr(e164, -2, 1) || substr(e164, -3, 1) || substr(e164, -4, 1)
        || substr(e164, -5, 1) || substr(e164, -6, 1) || substr(e164, -7, 1) || substr(e164, -8, 1) || substr(e164, -9, 1))
    || ' ' || also_found_as AS words
FROM (SELECT *, telephone_digits AS digits, coalesce(telephone_e164, '') AS e164 FROM customer);
CREATE VIEW customer_words AS
SELECT id, words || coalesce((
    SELECT group_concat(' ' || merged.words, '') FROM customer_own_words AS merged
    WHERE merged.merged_into = customer_own_words.id), '') AS words
FROM customer_own_words;
CREATE TRIGGER customer_stays_findable
AFTER UPDATE OF name_folded, email, telephone_digits, telephone_e164, also_found_as ON customer
BEGIN
    UPDATE search_entry SET words = (SELECT words FROM customer_words WHERE id = coalesce(NEW.merged_into, NEW.id))
    WHERE record_id = coalesce(NEW.merged_into, NEW.id);
END;
UPDATE search_entry SET words = (SELECT words FROM customer_words WHERE id = record_id) WHERE kind = 'customer';
