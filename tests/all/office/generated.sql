-- Six hundred jobs over two years until Wed 14 Oct 2026 10:00 UTC, drawn by a fixed rule, put into a furnished shop by
-- nobody's code but SQLite's: every tenth went home as it came, the last ones are still here. Names are invented.

CREATE TEMP TABLE n (i INTEGER PRIMARY KEY);
WITH RECURSIVE counted (i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM counted WHERE i < 599) INSERT INTO n SELECT i FROM counted;
CREATE TEMP TABLE bench AS
SELECT row_number() OVER (ORDER BY name) - 1 AS place, id FROM staff WHERE is_bench OR is_owner;
CREATE TEMP TABLE desk AS SELECT id FROM staff WHERE is_desk LIMIT 1;
CREATE TEMP TABLE offered AS SELECT row_number() OVER (ORDER BY key) - 1 AS place, id, name, minutes, price FROM service;

INSERT INTO customer (id, name, name_folded, telephone, telephone_digits, email, address, reach_by, note, created_at, form_key)
SELECT unhex(printf('%032x', 1000 + i)), 'Weirside ' || i, 'weirside ' || i, '', '', '', '', 'telephone', '', 1, 'g' || i
FROM n WHERE i < 40;
INSERT INTO instrument (id, customer_id, family, maker, model, serial, finish, handedness, scale_um, frets, body_fret, courses,
    truss_rod, bridge, saddle, nut_material, saddle_material, string_set, top_wood, note, created_at, form_key)
SELECT unhex(printf('%032x', 2000 + i)), unhex(printf('%032x', 1000 + i % 40)),
       json_extract('["steel-string","steel-string","classical","electric","ukulele"]', '$[' || (i % 5) || ']'),
       'Thistlewade', 'OM-' || i, 'G-' || i, '', 'right', 645000, 20, 14, 6, 'two-way', '', '', '', '', '', '', '', 1, 'g' || i
FROM n WHERE i < 80;

-- chance in whole numbers; some came late in the evening, so that the shop's day is not that of UTC
CREATE TEMP TABLE fact AS
SELECT *, CASE WHEN ready IS NOT NULL AND ready + (chance / 512 % 12) * 86400000000 + 3600000000 <= 1791972000000000
               THEN ready + (chance / 512 % 12) * 86400000000 + 3600000000 END AS gone
FROM (
    SELECT *, CASE WHEN i % 10 = 7 THEN NULL WHEN came + stay <= 1791972000000000 THEN came + stay END AS ready,
           CASE WHEN i % 10 = 7 AND came + 5 * 86400000000 <= 1791972000000000 THEN came + 5 * 86400000000 END AS sent_home
    FROM (
        SELECT i, (i * 2654435761 + 12345) % 4294967296 AS chance,
               1791972000000000 - (600 - i) * 105120000000 + (i * 7919 % 24) * 3600000000 AS came,
               (2 + (i * 2654435761 % 4294967296) / 4096 % 23 + (i % 5 = 3) * 6) * 86400000000
                   + (i * 104729 % 24) * 3600000000 AS stay
        FROM n
    )
);
INSERT INTO job (id, year, serial, number, customer_id, instrument_id, complaint, style, brought_with, rack, staff_id,
    promised_on, stage, stage_since, waiting_for, waiting_reason, checked_in_at, ready_at, link_hash, form_key, earlier_job_id)
SELECT unhex(printf('%032x', 10000 + i)), 50, i + 1, printf('50-%04d', i + 1), unhex(printf('%032x', 1000 + i % 40)),
       unhex(printf('%032x', 2000 + i % 80)), 'It buzzes.', 'medium', '', '',
       (SELECT id FROM bench WHERE place = i % 3), date(came / 1000000 + 14 * 86400, 'unixepoch'),
       CASE WHEN sent_home IS NOT NULL THEN 'closed-unrepaired' WHEN gone IS NOT NULL THEN 'collected'
            WHEN ready IS NOT NULL THEN 'ready' ELSE 'on-the-bench' END,
       coalesce(sent_home, gone, ready, came + 1800000000), NULL, NULL, came, ready, randomblob(32), 'g' || i,
       iif(i > 100 AND chance / 64 % 17 = 0, unhex(printf('%032x', 10000 + i - 80)), NULL)
FROM fact ORDER BY i;
INSERT INTO job_move (job_id, from_stage, to_stage, moved_at, from_since)
SELECT unhex(printf('%032x', 10000 + i)), 'checked-in', 'on-the-bench', came + 1800000000, came FROM fact
UNION ALL
SELECT unhex(printf('%032x', 10000 + i)), 'on-the-bench', 'ready', ready, came + 1800000000 FROM fact WHERE ready IS NOT NULL
UNION ALL
SELECT unhex(printf('%032x', 10000 + i)), 'ready', 'collected', gone, ready FROM fact WHERE gone IS NOT NULL
UNION ALL
SELECT unhex(printf('%032x', 10000 + i)), 'on-the-bench', 'closed-unrepaired', sent_home, came + 1800000000
FROM fact WHERE sent_home IS NOT NULL;
INSERT INTO job_wait (job_id, waiting_for, begun_at, ended_at)
SELECT unhex(printf('%032x', 10000 + i)), json_extract('["part","customer","wood"]', '$[' || (i % 3) || ']'), came + 3600000000,
       iif(ready IS NULL AND i % 12 = 0, NULL, came + (2 + chance % 40) * 3600000000)
FROM fact WHERE i % 4 = 0;

-- two lines a job, one of them of a service; a tenth of the lines have no clocked time
INSERT INTO work_line (id, job_id, service_id, position, words, minutes, price, tax_class, state, done_by, done_at, form_key)
SELECT unhex(printf('%032x', 20000 + 2 * i + line)), unhex(printf('%032x', 10000 + i)),
       iif(line = 1 AND i % 6 = 0, NULL, offered.id), line + 1, offered.name, offered.minutes, offered.price + i % 7,
       iif(line = 1, 'reduced', 'standard'), iif(ready IS NULL, 'agreed', 'done'),
       iif(ready IS NULL, NULL, (SELECT id FROM bench WHERE place = (i + line) % 3)),
       iif(ready IS NULL, NULL, ready - 3600000000 * (2 - line)), 'g'
FROM fact, (SELECT 0 AS line UNION ALL SELECT 1) JOIN offered ON offered.place = (chance / 16 + line * 5) % 9;
INSERT INTO labour_entry (id, job_id, work_line_id, staff_id, started_at, ended_at)
SELECT unhex(printf('%032x', 30000 + 2 * i + line)), unhex(printf('%032x', 10000 + i)),
       unhex(printf('%032x', 20000 + 2 * i + line)), work_line.done_by, work_line.done_at - 7200000000,
       -- half to one and a half times the estimate, and a forgotten clock now and then
       work_line.done_at - 7200000000 + iif(chance % 97 = 1, 40, 1) * work_line.minutes * (50 + chance / 32 % 100) * 600000
FROM fact, (SELECT 0 AS line UNION ALL SELECT 1)
JOIN work_line ON work_line.id = unhex(printf('%032x', 20000 + 2 * i + line))
WHERE ready IS NOT NULL AND (i + line) % 10 <> 4;
INSERT INTO labour_correction (labour_entry_id, minutes, reason, staff_id, corrected_at, form_key)
SELECT unhex(printf('%032x', 30000 + 2 * i)), 30 + i % 50, 'The telephone.', (SELECT id FROM bench LIMIT 1), 1, 'g' || i || again
FROM fact, (SELECT 'a' AS again UNION ALL SELECT 'b')
WHERE ready IS NOT NULL AND i % 13 = 2 AND i % 10 <> 4;

-- every third job was quoted twice, and the second revision leaves the first line out
INSERT INTO quote (id, job_id, revision, made_at, staff_id, valid_until, currency, tax_name, tax_rounding, tax_level, net, tax,
    total, note, answer, answered_at, form_key)
SELECT unhex(printf('%032x', 40000 + 2 * i + revision)), unhex(printf('%032x', 10000 + i)), revision + 1,
       came + 600000000 * (1 + revision), (SELECT id FROM desk), '2030-01-01', 'GBP', 'VAT',
       json_extract('["half-up","half-even","down"]', '$[' || (i % 3) || ']'), iif(i % 2 = 0, 'on-total', 'per-line'),
       10000 + i, 0, 10000 + i, '', CASE WHEN i % 10 = 7 THEN NULL ELSE 'agreed' END,
       CASE WHEN i % 10 = 7 THEN NULL ELSE came + 700000000 * (1 + revision) END, 'g' || i || '-' || revision
FROM fact, (SELECT 0 AS revision UNION ALL SELECT 1) WHERE revision = 0 OR i % 3 = 0;
INSERT INTO quote_line (quote_id, position, work_line_id, words, minutes, price, tax_class, tax_rate, answer)
SELECT unhex(printf('%032x', 40000 + 2 * i + revision)), line + 1, unhex(printf('%032x', 20000 + 2 * i + line)), 'x',
       work_line.minutes, work_line.price, work_line.tax_class, iif(line = 1, 5250, 20000),
       CASE WHEN i % 10 = 7 THEN NULL WHEN revision = 1 AND line = 0 THEN 'declined' ELSE 'agreed' END
FROM fact, (SELECT 0 AS revision UNION ALL SELECT 1), (SELECT 0 AS line UNION ALL SELECT 1)
JOIN work_line ON work_line.id = unhex(printf('%032x', 20000 + 2 * i + line))
WHERE revision = 0 OR i % 3 = 0;
INSERT INTO payment (id, number, job_id, kind, method, amount, taken_at, staff_id, note, form_key)
SELECT unhex(printf('%032x', 50000 + i)), 2 * i + 1, unhex(printf('%032x', 10000 + i)), 'balance', 'card', 4000 + chance / 8 % 12000, gone,
       (SELECT id FROM desk), '', 'g' || i
FROM fact WHERE gone IS NOT NULL
UNION ALL
SELECT unhex(printf('%032x', 60000 + i)), 2 * i + 2, unhex(printf('%032x', 10000 + i)), 'refund', 'cash', -500, gone + 1000,
       (SELECT id FROM desk), '', 'r' || i
FROM fact WHERE gone IS NOT NULL AND i % 20 = 1;
UPDATE staff SET active = 0 WHERE name = 'Tamsa';
