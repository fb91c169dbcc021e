-- What is asked for is folded; what stands in the index must be, too. The tokenizer takes accents off, but a letter
-- with a stroke is one of its own to it: ł, ø and their like are written out here, as `records::fold` does.
-- A number with an extension is found from the end of the number. Whoever was merged is found by what stood in
-- either record.

DROP TRIGGER customer_stays_findable;
DROP TRIGGER merged_customer_is_found_no_more;
DROP VIEW customer_words;
DROP VIEW instrument_words;
DROP VIEW job_words;

-- Telephones stand as typed, as E.164, and both backwards after an r: spellings differ in front (+44, 0044, 0), so a
-- number is found from its end by a prefix of its reverse. E.164 knows no extension.
CREATE VIEW customer_own_words AS
SELECT id, merged_into, name_folded || ' ' || email || ' ' || digits || ' ' || ltrim(e164, '+')
    || iif(digits = '', '', ' r' || substr(digits, -1, 1) || substr(digits, -2, 1) || substr(digits, -3, 1) || substr(digits, -4, 1)
        || substr(digits, -5, 1) || substr(digits, -6, 1) || substr(digits, -7, 1) || substr(digits, -8, 1) || substr(digits, -9, 1))
    || iif(e164 = '', '', ' r' || substr(e164, -1, 1) || substr(e164, -2, 1) || substr(e164, -3, 1) || substr(e164, -4, 1)
        || substr(e164, -5, 1) || substr(e164, -6, 1) || substr(e164, -7, 1) || substr(e164, -8, 1) || substr(e164, -9, 1)) AS words
FROM (SELECT *, telephone_digits AS digits, coalesce(telephone_e164, '') AS e164 FROM customer);

CREATE VIEW customer_words AS
SELECT id, words || coalesce((
    SELECT group_concat(' ' || merged.words, '') FROM customer_own_words AS merged
    WHERE merged.merged_into = customer_own_words.id), '') AS words
FROM customer_own_words;

-- a serial is found with and without its hyphens and blanks
CREATE VIEW instrument_words AS
SELECT id,
    replace(replace(replace(replace(replace(replace(replace(replace(replace(replace(
    replace(replace(replace(replace(replace(replace(replace(replace(replace(
        maker || ' ' || model || ' ' || serial || ' ' || replace(replace(serial, '-', ''), ' ', '') || ' ' || family || ' '
        || finish || ' ' || coalesce(year, '')
        , 'ł', 'l'), 'Ł', 'l'), 'ø', 'o'), 'Ø', 'o'), 'đ', 'd'), 'Đ', 'd'), 'ð', 'd'), 'Ð', 'd'), 'ħ', 'h')
        , 'Ħ', 'h'), 'ı', 'i'), 'æ', 'ae'), 'Æ', 'ae'), 'œ', 'oe'), 'Œ', 'oe'), 'ß', 'ss'), 'ẞ', 'ss')
        , 'þ', 'th'), 'Þ', 'th') AS words
FROM instrument;

-- 26-0417 is also found as 260417 and as 417
CREATE VIEW job_words AS
SELECT id,
    replace(replace(replace(replace(replace(replace(replace(replace(replace(replace(
    replace(replace(replace(replace(replace(replace(replace(replace(replace(
        number || ' ' || replace(number, '-', '') || ' ' || serial || ' ' || complaint
        , 'ł', 'l'), 'Ł', 'l'), 'ø', 'o'), 'Ø', 'o'), 'đ', 'd'), 'Đ', 'd'), 'ð', 'd'), 'Ð', 'd'), 'ħ', 'h')
        , 'Ħ', 'h'), 'ı', 'i'), 'æ', 'ae'), 'Æ', 'ae'), 'œ', 'oe'), 'Œ', 'oe'), 'ß', 'ss'), 'ẞ', 'ss')
        , 'þ', 'th'), 'Þ', 'th') AS words
FROM job;

CREATE TRIGGER customer_stays_findable
AFTER UPDATE OF name_folded, email, telephone_digits, telephone_e164 ON customer
BEGIN
    UPDATE search_entry SET words = (SELECT words FROM customer_words WHERE id = coalesce(NEW.merged_into, NEW.id))
    WHERE record_id = coalesce(NEW.merged_into, NEW.id);
END;
CREATE TRIGGER merged_customer_is_found_in_the_other AFTER UPDATE OF merged_into ON customer
WHEN NEW.merged_into IS NOT NULL
BEGIN
    DELETE FROM search_entry WHERE record_id = NEW.id;
    UPDATE search_entry SET words = (SELECT words FROM customer_words WHERE id = NEW.merged_into)
    WHERE record_id = NEW.merged_into;
END;

UPDATE search_entry SET words = (SELECT words FROM customer_words WHERE id = record_id) WHERE kind = 'customer';
UPDATE search_entry SET words = (SELECT words FROM instrument_words WHERE id = record_id) WHERE kind = 'instrument';
UPDATE search_entry SET words = (SELECT words FROM job_words WHERE id = record_id) WHERE kind = 'job';
