-- Fills the books of a furnished shop. `size` says how many jobs it has had: thirty a day until this morning, so that
-- more jobs are more years and not a larger shop. The last sixty are in the house. Keys are UUIDv7 in order of time.
-- Every name is invented. An instrument comes twice, its owner has one or two.

CREATE TEMP TABLE n (i INTEGER PRIMARY KEY);
WITH RECURSIVE counted (i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM counted WHERE i + 1 < (SELECT jobs FROM size))
INSERT INTO n SELECT i FROM counted;

CREATE TEMP TABLE words (kind TEXT, place INTEGER, word TEXT, PRIMARY KEY (kind, place)) WITHOUT ROWID;
INSERT INTO words SELECT 'first', key, value FROM json_each('["Maren","Zaneta","Kenji","Lucia","Chidi","Isla","Anders",
    "Willa","Ewart","Corin","Philippa","Ruben","Oda","Tamsin","Bram","Ines","Jorun","Kofi","Lotte","Mirko","Nadia",
    "Osric","Petra","Quinn","Rosa","Sunniva","Tariq","Una","Viggo","Wanda","Xenia","Yusuf","Zora","Alba","Berit",
    "Cosmo","Dilys","Emrys","Fenna","Gwen"]');
INSERT INTO words SELECT 'front', key, value FROM json_each('["Fair","Pen","Sal","Quist","Ibbot","Hatch","Sten","Van",
    "Lund","Wier","Naka","Thorn","Ash","Brook","Cold","Dun","Elder","Fox","Glen","Holm"]');
INSERT INTO words SELECT 'back', key, value FROM json_each('["weather","nock","low","gaard","sen","ham","ton","dale",
    "by","wick","ford","ley","worth","stead","mere","hurst","field","thwaite","more","ridge"]');
INSERT INTO words SELECT 'last', front.place * 20 + back.place, front.word || back.word
FROM words AS front, words AS back WHERE front.kind = 'front' AND back.kind = 'back';
INSERT INTO words SELECT 'maker', key, value FROM json_each('["Thistlewade","Alderbrook","Brookside","Fennimore",
    "Old Mill","Rushcliffe","Tarn & Daughters","Waterhouse Lane"]');
INSERT INTO words SELECT 'complaint', key, value FROM json_each('["It buzzes on the low strings when I dig in",
    "The action is high up the neck","A fret is loose near the body","The tuner of the third string slips",
    "New strings and a setup, please","It buzzes at the fifth fret","The nut slot of the first string is too deep",
    "The bridge lifts at the back edge","It goes out of tune above the twelfth","The neck feels bowed since winter",
    "A crack in the top beside the fretboard","The jack crackles","It rattles somewhere inside",
    "The saddle leans forward","Strings break at the bridge","The action is too low and it buzzes everywhere"]');

CREATE TEMP TABLE job_fact AS
SELECT i, i >= jobs - 60 AS open, (i / 2000) * 1000 + i % 1000 AS instrument, i = jobs - 30 AS hot,
       1791968400000000 - (jobs - i) * 2880000000 AS at, (i * 2654435761) % 4294967296 AS chance,
       unhex(printf('%012x70008000000000000001', i)) AS id
FROM n, size;
CREATE TEMP TABLE instrument_fact AS
SELECT instrument AS m, instrument * 2 / 3 AS k, min(at) AS at, max(at) AS last_at, max(hot) AS hot,
       unhex(printf('%012x70008000000000000002', instrument)) AS id,
       unhex(printf('%012x70008000000000000003', instrument * 2 / 3)) AS customer_id
FROM job_fact GROUP BY instrument;
CREATE TEMP TABLE desk AS SELECT id FROM staff WHERE is_desk = 1 LIMIT 1;
CREATE TEMP TABLE offered (place INTEGER PRIMARY KEY, id BLOB);
INSERT INTO offered SELECT row_number() OVER (ORDER BY key) - 1, id FROM service;
CREATE TEMP TABLE bench AS SELECT id FROM staff WHERE is_bench = 1 LIMIT 1;

-- one surname in a hundred is the same
WITH person AS (
    SELECT k, min(at) AS at, customer_id AS id, (k * 2654435761) % 4294967296 AS chance
    FROM instrument_fact GROUP BY k
), named AS (
    SELECT person.*, first.word || ' ' || iif(chance / 64 % 100 = 0, 'Oakhollow', last.word) AS name,
           printf('01632%06d', k * 7919 % 1000000) AS digits
    FROM person
    JOIN words AS first ON first.kind = 'first' AND first.place = chance % 40
    JOIN words AS last ON last.kind = 'last' AND last.place = chance / 6400 % 400
)
INSERT INTO customer (id, name, name_folded, telephone, telephone_e164, telephone_digits, email, address, reach_by,
    reminders_agreed_on, note, created_at, form_key, archived_on)
SELECT id, name, lower(name), digits, '+44' || substr(digits, 2), digits, 'c' || k || '@weir.example',
       k || ' Weir Lane', iif(k % 3 = 0, 'email', 'telephone'), iif(k % 2 = 0, date(at / 1000000, 'unixepoch'), NULL),
       '', at, 'c' || k, iif(k % 50 = 7, '2020-01-01', NULL)
FROM named ORDER BY k;

INSERT INTO instrument (id, customer_id, family, maker, model, serial, year, finish, handedness, scale_um, frets,
    body_fret, courses, truss_rod, bridge, saddle, nut_material, saddle_material, string_set, top_wood, note,
    created_at, form_key, archived_on)
SELECT id, customer_id, 'steel-string', word, 'OM-' || (m % 9), printf('TW-%07d', m), 1960 + m % 60,
       iif(m % 2 = 0, 'natural', 'sunburst'), 'right', 645000, 20,
       -- one instrument joins its body where no other does
       CASE WHEN hot THEN 15 WHEN m % 5 = 0 THEN 12 ELSE 14 END,
       6, 'two-way', 'pin bridge', 'set in a slot', 'bone', 'bone', 'light', 'spruce', '', at, 'i' || m,
       iif(m % 50 = 9, '2021-01-01', NULL)
FROM instrument_fact JOIN words ON words.kind = 'maker' AND words.place = m % 8 ORDER BY m;

INSERT INTO instrument_string (instrument_id, number, pitch, gauge_um, core_um, material, wound, position_um)
SELECT id, number, json_extract('["E4","B3","G3","D3","A2","E2"]', '$[' || (number - 1) || ']'),
       200 + number * 180, iif(number > 2, 300, NULL), 'steel', number > 2, (number - 1) * 10500
FROM instrument_fact, (SELECT i + 1 AS number FROM n WHERE i < 6) ORDER BY m, number;

INSERT INTO care_plan (id, instrument_id, kind, every_months, suits_month, last_done_on, next_due_on)
SELECT unhex(printf('%012x700%d8000000000000005', m, number)), id,
       json_extract('["oil-tuners","look-over","rehydrate"]', '$[' || number || ']'), 12, iif(number = 2, 10, NULL),
       date(last_at / 1000000, 'unixepoch'), date(last_at / 1000000 + 31536000, 'unixepoch')
FROM instrument_fact, (SELECT i AS number FROM n WHERE i < 3) ORDER BY m, number;

INSERT INTO change_of_hands (id, instrument_id, from_customer_id, to_customer_id, on_day, noted_at)
SELECT unhex(printf('%012x70008000000000000006', m)), id, unhex(printf('%012x70008000000000000003', k - 1)), customer_id,
       date(at / 1000000, 'unixepoch'), at
FROM instrument_fact WHERE m % 100 = 2 AND k > 0;

INSERT INTO job (id, year, serial, number, customer_id, instrument_id, complaint, style, brought_with, rack, staff_id,
    promised_on, stage, stage_since, waiting_for, waiting_reason, checked_in_at, link_hash, form_key, ready_at)
SELECT numbered.id, year, serial, printf('%02d-%04d', year, serial), customer_id, instrument_fact.id, word, 'medium',
       'hard case', 'B' || (i % 12), iif(i % 3 = 0 OR numbered.hot, (SELECT id FROM bench), NULL),
       date(numbered.at / 1000000 + 1209600, 'unixepoch'), stage, numbered.at + 86400000000,
       iif(open AND i % 9 = 4 AND stage NOT IN ('ready', 'on-the-bench'), 'part', NULL),
       iif(open AND i % 9 = 4 AND stage NOT IN ('ready', 'on-the-bench'), 'strings are on order', NULL),
       numbered.at, randomblob(32), 'j' || i,
       iif(stage IN ('ready', 'collected'), numbered.at + 82800000000, NULL)
FROM (
    SELECT *, CAST(strftime('%Y', at / 1000000, 'unixepoch') AS INTEGER) % 100 AS year,
           row_number() OVER (PARTITION BY strftime('%Y', at / 1000000, 'unixepoch') ORDER BY i) AS serial,
           CASE WHEN hot THEN 'on-the-bench'
                WHEN open THEN json_extract('["checked-in","measured","quoted","agreed","on-the-bench","final-check",
                    "ready"]', '$[' || (i % 7) || ']')
                WHEN i % 20 = 3 THEN 'closed-unrepaired' ELSE 'collected' END AS stage
    FROM job_fact
) AS numbered
JOIN instrument_fact ON instrument_fact.m = numbered.instrument
JOIN words ON words.kind = 'complaint' AND words.place = chance % 16
ORDER BY i;

-- through the bench to the counter, and a fifth of them waited
INSERT INTO job_move (job_id, from_stage, to_stage, moved_at, from_since)
SELECT id, json_extract('["checked-in","on-the-bench","ready"]', '$[' || number || ']'),
       json_extract('["on-the-bench","ready","collected"]', '$[' || number || ']'),
       at + (number + 1) * 27600000000, at + number * 27600000000
FROM job_fact, (SELECT i AS number FROM n WHERE i < 3) WHERE NOT open ORDER BY i, number;
INSERT INTO job_wait (job_id, waiting_for, begun_at, ended_at)
SELECT id, json_extract('["part","customer","wood"]', '$[' || (i % 3) || ']'), at + 3600000000, at + 20000000000
FROM job_fact WHERE i % 5 = 0 AND NOT open;

INSERT INTO condition_mark (id, job_id, number, side, note, x_permille, y_permille, made_at)
SELECT unhex(printf('%012x70008000000000000007', i)), id, 1, 'front', 'dent below the bridge', 500, 700, at FROM job_fact;

-- as received, after a turn of the rod, and as it left
INSERT INTO reading_set (id, job_id, stage, taken_at, staff_id, tuned_to, temperature_millicelsius, humidity_permille,
    tool, tool_resolution_um, tool_limit_um, fret_wear, note, form_key)
SELECT unhex(printf('%012x700%d8000000000000008', i, number)), id,
       json_extract('["received","during","final"]', '$[' || number || ']'), at + (1 + 24 * number) * 3600000000,
       (SELECT id FROM bench), 'standard', 20500, 470, 'calliper', 10, 20, '', '', 'r' || i || '-' || number
FROM job_fact, (SELECT i AS number FROM n WHERE i < 3)
WHERE (number = 0 AND i % 4 = 0) OR (number = 1 AND i % 8 = 0) OR (number = 2 AND i % 4 = 0 AND NOT open)
   OR (hot AND number < 2)
ORDER BY i, number;
INSERT INTO reading (reading_set_id, kind, string_number, repeat, value, typed)
SELECT id, 'height-12', number, 1, 2600 - number * 60, '2.3' FROM reading_set, (SELECT i + 1 AS number FROM n WHERE i < 6)
UNION ALL SELECT id, 'relief', 0, 1, iif(stage = 'received', 300, 180), '0.2' FROM reading_set
UNION ALL SELECT id, 'saddle-treble', 0, 1, 3100, '3.1' FROM reading_set
UNION ALL SELECT id, 'saddle-bass', 0, 1, 3900, '3.9' FROM reading_set;
INSERT INTO reading_draft (id, job_id, after_set_id, done_steps, opened_at, staff_id)
SELECT unhex(printf('%012x70008000000000000009', i)), id, unhex(printf('%012x70008000000000000008', i)),
       '["relief-too-much"]', at + 7200000000, (SELECT id FROM bench)
FROM job_fact WHERE i % 8 = 0 OR hot;
INSERT INTO plan (id, job_id, reading_set_id, engine_version, input_json, output_json, made_at, staff_id)
SELECT unhex(printf('%012x7000800000000000000a', i)), id, unhex(printf('%012x70008000000000000008', i)), 'x', '{}', '{}',
       at + 3600000000, (SELECT id FROM bench)
FROM job_fact WHERE i % 4 = 0;
INSERT INTO observation (id, job_id, key, string_number, fret, note, staff_id, seen_at, cleared_at, form_key)
SELECT unhex(printf('%012x7000800000000000000b', i)), id, 'buzz', 6, 3, '', (SELECT id FROM bench), at, at + 1, 'o' || i
FROM job_fact WHERE i % 2 = 0 OR hot;

INSERT INTO work_line (id, job_id, service_id, position, words, minutes, price, tax_class, state, done_by, done_at, form_key)
SELECT unhex(printf('%012x700%d800000000000000c', i, number)), id, (SELECT id FROM offered WHERE place = (i * 7 + number) % 12), number,
       iif(number = 1, 'Set up', 'New strings'), 60, 9000, 'standard', iif(open, 'agreed', 'done'),
       iif(open, NULL, (SELECT id FROM bench)), iif(open, NULL, at + 86400000000), 'w'
FROM job_fact, (SELECT i + 1 AS number FROM n WHERE i < 2) ORDER BY i, number;
-- who took it back as it came never answered
INSERT INTO quote (id, job_id, revision, made_at, staff_id, valid_until, currency, tax_name, tax_rounding, tax_level,
    net, tax, total, note, answer, answered_at, form_key)
SELECT unhex(printf('%012x7000800000000000000d', i)), id, 1, at + 7200000000, (SELECT id FROM desk),
       date(at / 1000000 + 2592000, 'unixepoch'), 'GBP', 'VAT', 'half-up', 'on-total', 18000, 3600, 21600, '',
       iif(i % 20 = 3 OR (open AND i % 7 = 2), NULL, 'agreed'), iif(i % 20 = 3 OR (open AND i % 7 = 2), NULL, at + 10800000000),
       'q' || i
FROM job_fact;
INSERT INTO quote_line (quote_id, position, work_line_id, words, minutes, price, tax_class, tax_rate, answer)
SELECT unhex(printf('%012x7000800000000000000d', i)), number, unhex(printf('%012x700%d800000000000000c', i, number)),
       iif(number = 1, 'Set up', 'New strings'), 60, 9000, 'standard', 20000,
       iif(i % 20 = 3 OR (open AND i % 7 = 2), NULL, 'agreed')
FROM job_fact, (SELECT i + 1 AS number FROM n WHERE i < 2) ORDER BY i, number;
INSERT INTO payment (id, number, job_id, kind, method, amount, taken_at, staff_id, note, form_key)
SELECT unhex(printf('%012x7000800000000000000e', i)), i + 1, id, 'balance', 'card', 21600, at + 90000000000, (SELECT id FROM desk), '',
       'p' || i
FROM job_fact WHERE NOT open;
-- what each comes to, and what was paid
INSERT INTO job_account (job_id, agreed_at, agreed_net, agreed_total, paid)
SELECT id, iif(i % 20 = 3 OR (open AND i % 7 = 2), NULL, at + 10800000000),
       iif(i % 20 = 3 OR (open AND i % 7 = 2), 0, 18000), iif(i % 20 = 3 OR (open AND i % 7 = 2), 0, 21600),
       iif(open, 0, 21600)
FROM job_fact;
INSERT INTO labour_entry (id, job_id, work_line_id, staff_id, started_at, ended_at)
SELECT unhex(printf('%012x7000800000000000000f', i)), id, unhex(printf('%012x7001800000000000000c', i)), (SELECT id FROM bench),
       at + 10800000000, iif(hot, NULL, at + 14400000000)
FROM job_fact;
INSERT INTO part (id, name, name_folded, unit, form_key)
SELECT unhex(printf('%012x70008000000000000010', i)), 'Part ' || i, 'part ' || i, 'piece', 'part' || i FROM n WHERE i < 20;
INSERT INTO part_movement (id, part_id, kind, quantity, on_hand_after, job_id, note, staff_id, moved_at, form_key)
SELECT unhex(printf('%012x70008000000000000011', i)), unhex(printf('%012x70008000000000000010', i % 20)), 'taken', -1000, 0, id,
       '', (SELECT id FROM bench), at, 'm' || i
FROM job_fact WHERE i % 2 = 0;
INSERT INTO job_note (id, job_id, words, staff_id, written_at, form_key)
SELECT unhex(printf('%012x70008000000000000012', i)), id, 'The player tunes down a whole step.', (SELECT id FROM bench), at, 'n' || i
FROM job_fact WHERE i % 5 = 0 OR hot;
INSERT INTO signature (id, job_id, purpose, marks, strokes, drawn_at, staff_id, form_key)
SELECT unhex(printf('%012x70008000000000000013', i)), id, 'collection', 1, 'M10,20L11,22', at, (SELECT id FROM desk), 's' || i
FROM job_fact WHERE i % 10 = 0;
INSERT INTO photo (id, job_id, sha256, small_sha256, width, height, bytes, caption, staff_id, added_at, form_key)
SELECT unhex(printf('%012x70008000000000000014', i)), id, randomblob(32), randomblob(32), 2400, 1600, 700000, 'the bridge',
       (SELECT id FROM desk), at, 'f' || i
FROM job_fact WHERE i % 5 = 0 OR hot;
INSERT INTO check_answer (job_id, check_item_id, arrived_at, answer, reason, staff_id, answered_at)
SELECT id, (SELECT id FROM check_item LIMIT 1), at, 'yes', '', (SELECT id FROM bench), at FROM job_fact WHERE NOT open;
INSERT INTO event (at, staff_id, door, deed, record, record_id, before_json, after_json)
SELECT at + number * 3600000000, (SELECT id FROM desk), 'desk',
       json_extract('["checked in","stage moved","claim ticket printed","stage moved"]', '$[' || number || ']'), 'job', id,
       iif(number % 2 = 1, '{"stage":"agreed"}', NULL), iif(number % 2 = 1, '{"stage":"on-the-bench"}', NULL)
FROM job_fact, (SELECT i AS number FROM n WHERE i < 4) ORDER BY i, number;
INSERT INTO import (id, file_name, content, columns, state, made_at, staff_id, form_key)
SELECT unhex(printf('%012x70008000000000000015', 1)), 'list.csv',
       '{"encoding":"UTF-8","headings":["Name"],"rows":[{"line":2,"cells":["Oda Fenby"]}]}', '["name"]', 'read',
       1791968400000000, (SELECT id FROM desk), 'import';
