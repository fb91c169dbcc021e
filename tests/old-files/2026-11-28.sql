-- A shop's file as the program of 28 November 2026 wrote it, with one of everything: written by that program over
-- its own pages, in an empty shop, for invented people. Never edited: tests/all/house/old_file.rs makes the file from
-- it, with the migrations up to the newest named here, and opens it with the program of today.
INSERT OR REPLACE INTO _sqlx_migrations (version, description, installed_on, success, checksum, execution_time) VALUES
(20261125100000, 'people and house', '2026-11-28 06:32:35', 1, x'20afd7d141b106f06839da6c1bafb24e2d495c459d6514494811a82a420f1a19e52ec279dc1415205946fe4e9a52d9a7', 4188271),
(20261125100100, 'customers and instruments', '2026-11-28 06:32:35', 1, x'1c04746879a91ac5bd532baf3713298d2dc93732565ecaa05e4d128f8015d921a9b0a38b6071121c6e9a50922e1d76f1', 987008),
(20261125100200, 'jobs and bench', '2026-11-28 06:32:35', 1, x'd5495c697217dfb18bdf1a0d9dc4096d20ed933ace156dc6d1d456269973a43d5eeaba26df67102eb245bd6ad95c4e04', 2738053),
(20261125100300, 'work and money', '2026-11-28 06:32:35', 1, x'4e3eec10810d5e68c031984afe613e43e4a9779bf0fbf4a1db7010faf7e7789a1a9dbfcf69980b1347b40f51a118d1de', 979307),
(20261126100000, 'api tokens', '2026-11-28 06:32:35', 1, x'271254bba536536fd598b3c7435dba47f2957b967c3bbc94d2fe0ec8a82fad23e01418904fc64b233629f952d6c09525', 446334),
(20261126100100, 'string sets', '2026-11-28 06:32:35', 1, x'1c027fa4ea61aed90b7c8f6fe670cceef21e51042d95c6f05e81df776c929a7764e00b09a709c2bf245df1d25b59623b', 601655),
(20261126100200, 'readings under way', '2026-11-28 06:32:35', 1, x'45cc4ad4ea7b2cff8fe569fe5488e64cbd536491ae1b49acaf61a20f0fad524ab1557a3419690f24c170a88e6344583f', 780582),
(20261126100300, 'final check', '2026-11-28 06:32:35', 1, x'87bd10def5d6aeae4f8cdb4155ae0ddb9c3814084d6e166635a4f624ad3446d9ea312001afb1cb675bd3a9229f6dc285', 2818833),
(20261126100301, 'bench work', '2026-11-28 06:32:35', 1, x'41f15898f33379846174c3a06cccc2a94b2333036208122f2e6f43ba23bb4ae9867cb37d487753844f4745d4ddd76787', 16948252),
(20261126100302, 'photos', '2026-11-28 06:32:35', 1, x'e7d934634843835b568e27edac5e187b3fe123de23cec37c37bd199d5df9e1e47a242a6fdaa54c8f93153041fc52e431', 596277),
(20261126100400, 'search', '2026-11-28 06:32:35', 1, x'58c69d0094950a2a857bf6b0124971b45d70985fc709c6c27753721ecd089131c0ecb868dfff9ab875ced6ffa4b773c3', 1443968),
(20261126100401, 'merged archived forgotten', '2026-11-28 06:32:35', 1, x'0478f8a4da19cb86d5d5646e87fb71bcd299a1c63b6d037a57c6810d9cd48f97c7261961492d9915063be98bf0a849af', 9506502),
(20261126100402, 'signatures', '2026-11-28 06:32:35', 1, x'6ffeb50cfa63a89cd0ff969f1298f83d8f1e28c29c725b125dd02633bb087ff211fdeafe8f98037e80d33251c86bd401', 3735637),
(20261126100403, 'papers', '2026-11-28 06:32:35', 1, x'f454b873ed3b40c4da1e7560982b82adc3745b2820bf7a8c8d8b0b4c21cb08d22176bbfd3abf5ca4052a785b63e3ceba', 3754325),
(20261126100404, 'import', '2026-11-28 06:32:35', 1, x'23beb821f75bee199dceeb590f216474e721248fbe3a29a9bf357aa88a84a3d73e94de8719f677581384e90b1cf891f4', 8004668),
(20261127100101, 'forgotten words', '2026-11-28 06:32:35', 1, x'c549d4e1434a944fd4d2dbb149fbca1cc7c840060d87103550ef530b9fd032c682ed84ad16c2bd27fce375ee2f9d6cbe', 10177740),
(20261127100102, 'private link ends', '2026-11-28 06:32:35', 1, x'822b11c58819fe626a7057df0b8d39778de55fd21c9a219376cbf3dab0d7ef490c9ddcd9f59fe4acb574f38e017cb0ba', 9182900),
(20261127100103, 'found as typed', '2026-11-28 06:32:35', 1, x'1f4e7a700e7083201389c86af8c544074af96fe60205910e500aee688c1d7b9e88dfbeba92551d254f84a1c2ef3e6ed2', 1600090),
(20261127100104, 'marks and imports', '2026-11-28 06:32:35', 1, x'67db647a57d887a26fa71ccdb0b2c650c5f802aabd9d120a1d8a9f8b552dcb6c786220f76fdcb66cc2c71830843f39c3', 4893169),
(20261127120101, 'answers by line', '2026-11-28 06:32:35', 1, x'6d5702fd3f392f03ec1a5d653dcd12b8a4cd443dbe9d92b95ca10007d088ed8cc0df8fc0826be09f27fc888089c30af2', 1426412),
(20261127120102, 'pressed twice and looked up', '2026-11-28 06:32:35', 1, x'd2f3237de0acc96ea611ca2f116e308c3e71de79675556b3e2e01741a19d2d907eaef27f257da9d0c22ac62ab0116557', 2504226),
(20261127120103, 'care letter words', '2026-11-28 06:32:35', 1, x'd20698b2defba8262963c06db1ddb7ce9b21844d3c590aaabc126897da6d02d219b6a4fa9d0fbf42fcea9e4be1315d34', 1367244),
(20261127140100, 'readings carried over', '2026-11-28 06:32:35', 1, x'e880785681d89a16205f5b70e9a954589e7b0938289f472e42fe9e21187209dc9c2b9aecde28e21ec1bafc4c4e947008', 5414815),
(20261127140200, 'left as it is', '2026-11-28 06:32:35', 1, x'3d89ea95f03272398b4d88fb95215e838ae245f9c04ff518af994a903dd3467203579f56b8c6a3972e0f6b2b2c9eef51', 539632),
(20261127170000, 'own rods', '2026-11-28 06:32:35', 1, x'17d5a6854b30cf1efd5f0429096ecd6c51be14b45aadb1d9775e3cb29b93ea9bc908cc40c6228d66ed74d483dd230b01', 370822);
INSERT OR REPLACE INTO settings (id, shop_name, address, telephone, email, time_zone, country, currency, paper, length_unit, tax_name, standard_tax_rate, reduced_tax_rate, tax_rounding, tax_level, quote_valid_days, promise_days, claim_terms, quote_terms, care_advice, targets, version, link_days) VALUES
(1, 'Millrace Strings', 'The Weir House
3 Sluice Lane
Netherford', '01632 960117', 'bench@millrace.example', 'Europe/London', 'GB', 'GBP', 'a4', 'mm', 'VAT', 20000, 0, 'half-up', 'on-total', 30, 14, 'Please bring this ticket when you collect. We call or write when your instrument is ready. Work beyond the agreed quote is not done without your yes. Instruments left for more than three months after we told you they are ready may be charged for storage or sold, after the notices the local law asks for: local law decides.', 'Prices hold until the day shown. Removed material does not come back: we take off only what the readings allow, and measure again before the rest.', 'A drop of oil at each tuner''s gear once a year. Clean with water and a cotton cloth only. Keep moisture between 45 and 55 % through the heating season, in the closed case. Slacken the strings before you cut them, and shield your eyes.', '# The house''s target values. Common practice, no source: change them to what your customers like.
# All lengths in mm. "action" is the height of the open string over the 12th fret; "gap" is the gap over
# the 1st fret with the string stopped at the 3rd; strings between treble and bass lie in between.
# "least_showing" is the saddle that must stay above the bridge: below it the plan stops.

[air]
target_rh_percent = 50.0
good_rh_percent = [42.0, 58.0]   # nothing is said
watch_rh_percent = [35.0, 65.0]  # outside, the instrument recovers before anything is cut

[bench]
first_pass_risk = 0.025          # risk of taking too much in a first pass
step_mm = 0.01
cut_uncertainty_mm = 0.03        # how well a file or a sanding board keeps to the line
shim_mm = 0.3

[families.steel-string]
saddle_turns = false   # the bridge has screws or wheels: nothing is cut there

[families.steel-string.light]
action_12_treble_mm = 1.70
action_12_bass_mm = 2.10
action_tolerance_mm = 0.15
relief_least_mm = 0.06
relief_mm = 0.13
relief_most_mm = 0.23
gap_least_mm = 0.03
gap_mm = 0.07
gap_most_mm = 0.14
first_fret_treble_mm = 0.40
first_fret_bass_mm = 0.55
first_fret_tolerance_mm = 0.12
least_showing_mm = 1.5
cents_tolerance = 2.5

[families.steel-string.medium]
action_12_treble_mm = 1.90
action_12_bass_mm = 2.30
action_tolerance_mm = 0.15
relief_least_mm = 0.08
relief_mm = 0.15
relief_most_mm = 0.25
gap_least_mm = 0.03
gap_mm = 0.07
gap_most_mm = 0.14
first_fret_treble_mm = 0.40
first_fret_bass_mm = 0.55
first_fret_tolerance_mm = 0.12
least_showing_mm = 1.5
cents_tolerance = 2.5

[families.steel-string.strong]
action_12_treble_mm = 2.15
action_12_bass_mm = 2.55
action_tolerance_mm = 0.15
relief_least_mm = 0.11
relief_mm = 0.18
relief_most_mm = 0.28
gap_least_mm = 0.03
gap_mm = 0.07
gap_most_mm = 0.14
first_fret_treble_mm = 0.40
first_fret_bass_mm = 0.55
first_fret_tolerance_mm = 0.12
least_showing_mm = 1.5
cents_tolerance = 2.5

[families.classical]
saddle_turns = false   # the bridge has screws or wheels: nothing is cut there

[families.classical.light]
action_12_treble_mm = 2.80
action_12_bass_mm = 3.50
action_tolerance_mm = 0.20
relief_least_mm = 0.03
relief_mm = 0.10
relief_most_mm = 0.28
gap_least_mm = 0.05
gap_mm = 0.10
gap_most_mm = 0.20
first_fret_treble_mm = 0.60
first_fret_bass_mm = 0.80
first_fret_tolerance_mm = 0.15
least_showing_mm = 1.5
cents_tolerance = 3.0

[families.classical.medium]
action_12_treble_mm = 3.00
action_12_bass_mm = 3.70
action_tolerance_mm = 0.20
relief_least_mm = 0.05
relief_mm = 0.12
relief_most_mm = 0.30
gap_least_mm = 0.05
gap_mm = 0.10
gap_most_mm = 0.20
first_fret_treble_mm = 0.60
first_fret_bass_mm = 0.80
first_fret_tolerance_mm = 0.15
least_showing_mm = 1.5
cents_tolerance = 3.0

[families.classical.strong]
action_12_treble_mm = 3.25
action_12_bass_mm = 3.95
action_tolerance_mm = 0.20
relief_least_mm = 0.08
relief_mm = 0.15
relief_most_mm = 0.33
gap_least_mm = 0.05
gap_mm = 0.10
gap_most_mm = 0.20
first_fret_treble_mm = 0.60
first_fret_bass_mm = 0.80
first_fret_tolerance_mm = 0.15
least_showing_mm = 1.5
cents_tolerance = 3.0

[families.electric]
saddle_turns = true   # the bridge has screws or wheels: nothing is cut there

[families.electric.light]
action_12_treble_mm = 1.30
action_12_bass_mm = 1.70
action_tolerance_mm = 0.12
relief_least_mm = 0.03
relief_mm = 0.10
relief_most_mm = 0.23
gap_least_mm = 0.02
gap_mm = 0.06
gap_most_mm = 0.12
first_fret_treble_mm = 0.35
first_fret_bass_mm = 0.50
first_fret_tolerance_mm = 0.10
least_showing_mm = 0.0
cents_tolerance = 2.0

[families.electric.medium]
action_12_treble_mm = 1.50
action_12_bass_mm = 1.90
action_tolerance_mm = 0.12
relief_least_mm = 0.05
relief_mm = 0.12
relief_most_mm = 0.25
gap_least_mm = 0.02
gap_mm = 0.06
gap_most_mm = 0.12
first_fret_treble_mm = 0.35
first_fret_bass_mm = 0.50
first_fret_tolerance_mm = 0.10
least_showing_mm = 0.0
cents_tolerance = 2.0

[families.electric.strong]
action_12_treble_mm = 1.75
action_12_bass_mm = 2.15
action_tolerance_mm = 0.12
relief_least_mm = 0.08
relief_mm = 0.15
relief_most_mm = 0.28
gap_least_mm = 0.02
gap_mm = 0.06
gap_most_mm = 0.12
first_fret_treble_mm = 0.35
first_fret_bass_mm = 0.50
first_fret_tolerance_mm = 0.10
least_showing_mm = 0.0
cents_tolerance = 2.0

[families.bass]
saddle_turns = true   # the bridge has screws or wheels: nothing is cut there

[families.bass.light]
action_12_treble_mm = 1.70
action_12_bass_mm = 2.20
action_tolerance_mm = 0.20
relief_least_mm = 0.08
relief_mm = 0.20
relief_most_mm = 0.36
gap_least_mm = 0.03
gap_mm = 0.09
gap_most_mm = 0.18
first_fret_treble_mm = 0.45
first_fret_bass_mm = 0.65
first_fret_tolerance_mm = 0.15
least_showing_mm = 0.0
cents_tolerance = 3.0

[families.bass.medium]
action_12_treble_mm = 1.90
action_12_bass_mm = 2.40
action_tolerance_mm = 0.20
relief_least_mm = 0.10
relief_mm = 0.22
relief_most_mm = 0.38
gap_least_mm = 0.03
gap_mm = 0.09
gap_most_mm = 0.18
first_fret_treble_mm = 0.45
first_fret_bass_mm = 0.65
first_fret_tolerance_mm = 0.15
least_showing_mm = 0.0
cents_tolerance = 3.0

[families.bass.strong]
action_12_treble_mm = 2.15
action_12_bass_mm = 2.65
action_tolerance_mm = 0.20
relief_least_mm = 0.13
relief_mm = 0.25
relief_most_mm = 0.41
gap_least_mm = 0.03
gap_mm = 0.09
gap_most_mm = 0.18
first_fret_treble_mm = 0.45
first_fret_bass_mm = 0.65
first_fret_tolerance_mm = 0.15
least_showing_mm = 0.0
cents_tolerance = 3.0

[families.ukulele]
saddle_turns = false   # the bridge has screws or wheels: nothing is cut there

[families.ukulele.light]
action_12_treble_mm = 2.20
action_12_bass_mm = 2.20
action_tolerance_mm = 0.20
relief_least_mm = 0.00
relief_mm = 0.03
relief_most_mm = 0.13
gap_least_mm = 0.04
gap_mm = 0.09
gap_most_mm = 0.18
first_fret_treble_mm = 0.50
first_fret_bass_mm = 0.60
first_fret_tolerance_mm = 0.15
least_showing_mm = 1.0
cents_tolerance = 4.0

[families.ukulele.medium]
action_12_treble_mm = 2.40
action_12_bass_mm = 2.40
action_tolerance_mm = 0.20
relief_least_mm = 0.00
relief_mm = 0.05
relief_most_mm = 0.15
gap_least_mm = 0.04
gap_mm = 0.09
gap_most_mm = 0.18
first_fret_treble_mm = 0.50
first_fret_bass_mm = 0.60
first_fret_tolerance_mm = 0.15
least_showing_mm = 1.0
cents_tolerance = 4.0

[families.ukulele.strong]
action_12_treble_mm = 2.65
action_12_bass_mm = 2.65
action_tolerance_mm = 0.20
relief_least_mm = 0.03
relief_mm = 0.08
relief_most_mm = 0.18
gap_least_mm = 0.04
gap_mm = 0.09
gap_most_mm = 0.18
first_fret_treble_mm = 0.50
first_fret_bass_mm = 0.60
first_fret_tolerance_mm = 0.15
least_showing_mm = 1.0
cents_tolerance = 4.0

[families.mandolin]
saddle_turns = true   # the bridge has screws or wheels: nothing is cut there

[families.mandolin.light]
action_12_treble_mm = 1.20
action_12_bass_mm = 1.60
action_tolerance_mm = 0.15
relief_least_mm = 0.00
relief_mm = 0.03
relief_most_mm = 0.10
gap_least_mm = 0.02
gap_mm = 0.06
gap_most_mm = 0.12
first_fret_treble_mm = 0.30
first_fret_bass_mm = 0.42
first_fret_tolerance_mm = 0.10
least_showing_mm = 0.0
cents_tolerance = 3.0

[families.mandolin.medium]
action_12_treble_mm = 1.40
action_12_bass_mm = 1.80
action_tolerance_mm = 0.15
relief_least_mm = 0.00
relief_mm = 0.05
relief_most_mm = 0.12
gap_least_mm = 0.02
gap_mm = 0.06
gap_most_mm = 0.12
first_fret_treble_mm = 0.30
first_fret_bass_mm = 0.42
first_fret_tolerance_mm = 0.10
least_showing_mm = 0.0
cents_tolerance = 3.0

[families.mandolin.strong]
action_12_treble_mm = 1.65
action_12_bass_mm = 2.05
action_tolerance_mm = 0.15
relief_least_mm = 0.03
relief_mm = 0.08
relief_most_mm = 0.15
gap_least_mm = 0.02
gap_mm = 0.06
gap_most_mm = 0.12
first_fret_treble_mm = 0.30
first_fret_bass_mm = 0.42
first_fret_tolerance_mm = 0.10
least_showing_mm = 0.0
cents_tolerance = 3.0

[families.banjo]
saddle_turns = false   # the bridge has screws or wheels: nothing is cut there

[families.banjo.light]
action_12_treble_mm = 2.20
action_12_bass_mm = 2.40
action_tolerance_mm = 0.20
relief_least_mm = 0.03
relief_mm = 0.10
relief_most_mm = 0.23
gap_least_mm = 0.03
gap_mm = 0.08
gap_most_mm = 0.16
first_fret_treble_mm = 0.40
first_fret_bass_mm = 0.50
first_fret_tolerance_mm = 0.12
least_showing_mm = 1.0
cents_tolerance = 3.0

[families.banjo.medium]
action_12_treble_mm = 2.40
action_12_bass_mm = 2.60
action_tolerance_mm = 0.20
relief_least_mm = 0.05
relief_mm = 0.12
relief_most_mm = 0.25
gap_least_mm = 0.03
gap_mm = 0.08
gap_most_mm = 0.16
first_fret_treble_mm = 0.40
first_fret_bass_mm = 0.50
first_fret_tolerance_mm = 0.12
least_showing_mm = 1.0
cents_tolerance = 3.0

[families.banjo.strong]
action_12_treble_mm = 2.65
action_12_bass_mm = 2.85
action_tolerance_mm = 0.20
relief_least_mm = 0.08
relief_mm = 0.15
relief_most_mm = 0.28
gap_least_mm = 0.03
gap_mm = 0.08
gap_most_mm = 0.16
first_fret_treble_mm = 0.40
first_fret_bass_mm = 0.50
first_fret_tolerance_mm = 0.12
least_showing_mm = 1.0
cents_tolerance = 3.0

[families.other]
saddle_turns = false   # the bridge has screws or wheels: nothing is cut there

[families.other.light]
action_12_treble_mm = 2.00
action_12_bass_mm = 2.40
action_tolerance_mm = 0.25
relief_least_mm = 0.00
relief_mm = 0.08
relief_most_mm = 0.28
gap_least_mm = 0.03
gap_mm = 0.09
gap_most_mm = 0.20
first_fret_treble_mm = 0.45
first_fret_bass_mm = 0.60
first_fret_tolerance_mm = 0.20
least_showing_mm = 1.0
cents_tolerance = 4.0

[families.other.medium]
action_12_treble_mm = 2.20
action_12_bass_mm = 2.60
action_tolerance_mm = 0.25
relief_least_mm = 0.00
relief_mm = 0.10
relief_most_mm = 0.30
gap_least_mm = 0.03
gap_mm = 0.09
gap_most_mm = 0.20
first_fret_treble_mm = 0.45
first_fret_bass_mm = 0.60
first_fret_tolerance_mm = 0.20
least_showing_mm = 1.0
cents_tolerance = 4.0

[families.other.strong]
action_12_treble_mm = 2.45
action_12_bass_mm = 2.85
action_tolerance_mm = 0.25
relief_least_mm = 0.03
relief_mm = 0.13
relief_most_mm = 0.33
gap_least_mm = 0.03
gap_mm = 0.09
gap_most_mm = 0.20
first_fret_treble_mm = 0.45
first_fret_bass_mm = 0.60
first_fret_tolerance_mm = 0.20
least_showing_mm = 1.0
cents_tolerance = 4.0
', 1, 90);
INSERT OR REPLACE INTO staff (id, name, name_folded, is_desk, is_bench, is_owner, password_hash, active, failed_sign_ins, blocked_until, created_at, version, form_key) VALUES
(x'01a220db0a2774abb39b5f1560830134', 'Ottilie', 'ottilie', 1, 1, 1, '$argon2id$v=19$m=19456,t=2,p=1$/10nn0ry9+QSm3UloaiHhQ$nvpYQnK9aF2GzQXGOsfbiwbIJ13guOI/k8o3dQRiTxg', 1, 0, 0, 1795847555534921, 1, NULL),
(x'01a220db0a7e739f89561dcca493edfd', 'Ivo', 'ivo', 0, 1, 0, '$argon2id$v=19$m=19456,t=2,p=1$lW9ml4paFTlsndajs+AQLw$vR6znLlisqk+aCBq4r5IWdAjVv5L5CuIfwWeacEY7LI', 1, 0, 0, 1795847555660997, 1, NULL);
INSERT OR REPLACE INTO event (id, at, staff_id, door, deed, record, record_id, before_json, after_json) VALUES
(1, 1795847555524351, NULL, 'house', 'item of the final check added', 'check_item', x'01a220db09c47176bd76e541800378f0', NULL, '{"position":1,"words":"Final readings stand in their proved range","hint":"Filled from the final readings. Where one is off, or nothing was measured, say why that is right.","family":null,"archived":false}'),
(8, 1795847555524351, NULL, 'house', 'service added', 'service', x'01a220db09cb7685a1e5424173d80918', NULL, '{"key":"setup","name":"Setup: measure, adjust, prove","minutes":75,"price":6500,"tax_class":"standard","asks_for":"","asks_unit":"","active":true}'),
(26, 1795847555524351, NULL, 'house', 'string set added', 'string_set', x'01a220db09cc74e2aee33ef963c62530', NULL, '{"name":"Extra light, bronze, 0.25 to 1.19","family":"steel-string","archived":false,"strings":[{"pitch":"E4","material":"steel","gauge":254,"wound":false,"core":null,"wrap":null,"linear_density_ug_per_m":null},{"pitch":"B3","material":"steel","gauge":356,"wound":false,"core":null,"wrap":null,"linear_density_ug_per_m":null},{"pitch":"G3","material":"steel","gauge":584,"wound":true,"core":270,"wrap":null,"linear_density_ug_per_m":1560000},{"pitch":"D3","material":"steel","gauge":762,"wound":true,"core":310,"wrap":null,"linear_density_ug_per_m":2680000},{"pitch":"A2","material":"steel","gauge":991,"wound":true,"core":350,"wrap":null,"linear_density_ug_per_m":4570000},{"pitch":"E2","material":"steel","gauge":1194,"wound":true,"core":380,"wrap":null,"linear_density_ug_per_m":7220000}]}'),
(42, 1795847555534921, NULL, 'command', 'staff added', 'staff', x'01a220db0a2774abb39b5f1560830134', NULL, '{"id":"01a220db-0a27-74ab-b39b-5f1560830134","name":"Ottilie","roles":{"desk":true,"bench":true,"owner":true},"active":true,"version":1}'),
(44, 1795847555883349, x'01a220db0a2774abb39b5f1560830134', 'house', 'signed in', 'staff', x'01a220db0a2774abb39b5f1560830134', NULL, NULL),
(46, 1795847555934942, x'01a220db0a2774abb39b5f1560830134', 'desk', 'customer added', 'customer', x'01a220db0b5f74b0b63c06c771ca3359', NULL, '{"name":"Maren Oakhollow","telephone":"01632 960101","email":"maren@oakhollow.example","address":"","reach_by":"telephone","reminders_agreed_on":[2026,332],"note":""}'),
(47, 1795847555934942, x'01a220db0a2774abb39b5f1560830134', 'desk', 'instrument added', 'instrument', x'01a220db0be072f6bedbb61e00a3712c', NULL, '{"family":"steel-string","maker":"Thistlewade","model":"OM-2","serial":"TW-4471","year":null,"finish":"","handedness":"right","scale":645000,"frets":20,"body_fret":14,"radius":[406000,406000],"courses":6,"truss_rod":"two-way","bridge":"pin bridge","saddle":"glued-in or drop-in saddle in an open slot","nut_material":"bone","saddle_material":"bone","string_set":"light, phosphor bronze","top_wood":"","top_width":null,"note":"","strings":[{"pitch":"E4","gauge":305,"core":null,"material":"steel","wound":false,"linear_density_ug_per_m":null,"position":0},{"pitch":"B3","gauge":406,"core":null,"material":"steel","wound":false,"linear_density_ug_per_m":null,"position":10600},{"pitch":"G3","gauge":610,"core":280,"material":"steel","wound":true,"linear_density_ug_per_m":1700000,"position":21200},{"pitch":"D3","gauge":813,"core":330,"material":"steel","wound":true,"linear_density_ug_per_m":3050000,"position":31800},{"pitch":"A2","gauge":1067,"core":380,"material":"steel","wound":true,"linear_density_ug_per_m":5300000,"position":42400},{"pitch":"E2","gauge":1346,"core":430,"material":"steel","wound":true,"linear_density_ug_per_m":9170000,"position":53000}]}'),
(48, 1795847555934942, x'01a220db0a2774abb39b5f1560830134', 'desk', 'condition marked', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '{"id":"01a220db-0be1-7254-815f-5bcf486f9387","number":1,"side":"front","note":"dent below the bridge","place":null}'),
(49, 1795847555934942, x'01a220db0a2774abb39b5f1560830134', 'desk', 'checked in', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '{"id":"01a220db-0be0-72f6-bedb-b61f9d749d14","number":"26-0001","customer_id":"01a220db-0b5f-74b0-b63c-06c771ca3359","instrument_id":"01a220db-0be0-72f6-bedb-b61e00a3712c","earlier_job_id":null,"complaint":"It buzzes when I dig in,\nmostly low down.","style":"medium","brought_with":"hard case, strap","rack":"B3","staff_id":null,"promised_on":null,"stage":"checked-in","stage_since":1795847555934942,"waiting_for":null,"waiting_reason":null,"checked_in_at":1795847555934942,"link_number":0,"version":1}'),
(50, 1795847555934942, x'01a220db0a2774abb39b5f1560830134', 'desk', 'claim ticket printed', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, NULL),
(51, 1795847556069030, x'01a220db0a2774abb39b5f1560830134', 'desk', 'condition marked', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '{"id":"01a220db-0be5-70b6-bb80-ec6435d6c285","number":2,"side":"back","note":"buckle rash","place":null}'),
(52, 1795847556071485, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'measuring begun', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '"01a220db-0be7-762b-96b9-c9401d22b534"'),
(53, 1795847556076820, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'readings taken', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '[{"stage":"received","tuned_to":"standard","temperature_millicelsius":20000,"humidity_permille":480,"tool":"dial","tool_resolution":10,"tool_limit":20,"fret_wear":"","note":"New strings on."},[{"kind":"height-12","string_number":1,"repeat":1,"value":2500,"typed":"2.50","carried":null},{"kind":"height-12","string_number":1,"repeat":2,"value":2510,"typed":"2.51","carried":null},{"kind":"height-12","string_number":1,"repeat":3,"value":2490,"typed":"2.49","carried":null},{"kind":"gap-1-stopped-3","string_number":1,"repeat":1,"value":70,"typed":"0.07","carried":null},{"kind":"gap-1-stopped-3","string_number":1,"repeat":2,"value":80,"typed":"0.08","carried":null},{"kind":"gap-1-stopped-3","string_number":1,"repeat":3,"value":70,"typed":"0.07","carried":null},{"kind":"height-12","string_number":2,"repeat":1,"value":2580,"typed":"2.58","carried":null},{"kind":"height-12","string_number":2,"repeat":2,"value":2590,"typed":"2.59","carried":null},{"kind":"height-12","string_number":2,"repeat":3,"value":2570,"typed":"2.57","carried":null},{"kind":"gap-1-stopped-3","string_number":2,"repeat":1,"value":70,"typed":"0.07","carried":null},{"kind":"gap-1-stopped-3","string_number":2,"repeat":2,"value":80,"typed":"0.08","carried":null},{"kind":"gap-1-stopped-3","string_number":2,"repeat":3,"value":70,"typed":"0.07","carried":null},{"kind":"height-12","string_number":3,"repeat":1,"value":2660,"typed":"2.66","carried":null},{"kind":"height-12","string_number":3,"repeat":2,"value":2670,"typed":"2.67","carried":null},{"kind":"height-12","string_number":3,"repeat":3,"value":2650,"typed":"2.65","carried":null},{"kind":"gap-1-stopped-3","string_number":3,"repeat":1,"value":70,"typed":"0.07","carried":null},{"kind":"gap-1-stopped-3","string_number":3,"repeat":2,"value":80,"typed":"0.08","carried":null},{"kind":"gap-1-stopped-3","string_number":3,"repeat":3,"value":70,"typed":"0.07","carried":null},{"kind":"height-12","string_number":4,"repeat":1,"value":2740,"typed":"2.74","carried":null},{"kind":"height-12","string_number":4,"repeat":2,"value":2750,"typed":"2.75","carried":null},{"kind":"height-12","string_number":4,"repeat":3,"value":2730,"typed":"2.73","carried":null},{"kind":"gap-1-stopped-3","string_number":4,"repeat":1,"value":70,"typed":"0.07","carried":null},{"kind":"gap-1-stopped-3","string_number":4,"repeat":2,"value":80,"typed":"0.08","carried":null},{"kind":"gap-1-stopped-3","string_number":4,"repeat":3,"value":70,"typed":"0.07","carried":null},{"kind":"height-12","string_number":5,"repeat":1,"value":2820,"typed":"2.82","carried":null},{"kind":"height-12","string_number":5,"repeat":2,"value":2830,"typed":"2.83","carried":null},{"kind":"height-12","string_number":5,"repeat":3,"value":2810,"typed":"2.81","carried":null},{"kind":"gap-1-stopped-3","string_number":5,"repeat":1,"value":70,"typed":"0.07","carried":null},{"kind":"gap-1-stopped-3","string_number":5,"repeat":2,"value":80,"typed":"0.08","carried":null},{"kind":"gap-1-stopped-3","string_number":5,"repeat":3,"value":70,"typed":"0.07","carried":null},{"kind":"height-12","string_number":6,"repeat":1,"value":2900,"typed":"2.90","carried":null},{"kind":"height-12","string_number":6,"repeat":2,"value":2910,"typed":"2.91","carried":null},{"kind":"height-12","string_number":6,"repeat":3,"value":2890,"typed":"2.89","carried":null},{"kind":"gap-1-stopped-3","string_number":6,"repeat":1,"value":70,"typed":"0.07","carried":null},{"kind":"gap-1-stopped-3","string_number":6,"repeat":2,"value":80,"typed":"0.08","carried":null},{"kind":"gap-1-stopped-3","string_number":6,"repeat":3,"value":70,"typed":"0.07","carried":null},{"kind":"relief","string_number":0,"repeat":1,"value":150,"typed":"0.15","carried":null},{"kind":"relief","string_number":0,"repeat":2,"value":160,"typed":"0.16","carried":null},{"kind":"relief","string_number":0,"repeat":3,"value":150,"typed":"0.15","carried":null},{"kind":"saddle-treble","string_number":0,"repeat":1,"value":3600,"typed":"3.6","carried":null},{"kind":"saddle-bass","string_number":0,"repeat":1,"value":4400,"typed":"4.4","carried":null}]]'),
(54, 1795847556076820, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'stage moved', 'job', x'01a220db0be072f6bedbb61f9d749d14', '{"stage":"checked-in"}', '{"stage":"measured"}'),
(55, 1795847556083442, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'plan made', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '"01a220db-0bf3-7292-9779-a2dedf451a7b"'),
(56, 1795847556086187, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'observation noted', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '["crack",null,null,"old, by the pickguard"]'),
(57, 1795847556086928, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'plan made', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '"01a220db-0bf6-7175-881f-bd2d26a6bf56"'),
(58, 1795847556088649, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'observation noted', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '["buzz",6,3,""]'),
(59, 1795847556089244, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'plan made', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '"01a220db-0bf9-73b9-8e4e-e8886342d9e1"'),
(60, 1795847556091651, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'observation put right', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '"01a220db-0bf8-75e2-a289-c21f16a65464"'),
(61, 1795847556092387, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'plan made', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '"01a220db-0bfc-712d-8d1f-78d9619c43d6"'),
(62, 1795847556093528, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'note written', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '"Glue sets until four."'),
(63, 1795847556099608, x'01a220db0a2774abb39b5f1560830134', 'desk', 'work proposed', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '[{"service_id":null,"finding":null,"words":"Lower and fit the saddle","minutes":0,"price":4500,"tax_class":"standard"}]'),
(64, 1795847556103720, x'01a220db0a2774abb39b5f1560830134', 'desk', 'work proposed', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '[{"service_id":null,"finding":null,"words":"Polish the frets","minutes":0,"price":3000,"tax_class":"standard"}]'),
(65, 1795847556116010, x'01a220db0a2774abb39b5f1560830134', 'desk', 'quote made', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '["01a220db-0c14-772a-8743-039f6f409440",1,9000]'),
(66, 1795847556116010, x'01a220db0a2774abb39b5f1560830134', 'desk', 'stage moved', 'job', x'01a220db0be072f6bedbb61f9d749d14', '{"stage":"measured"}', '{"stage":"quoted"}'),
(67, 1795847556126130, x'01a220db0a2774abb39b5f1560830134', 'desk', 'quote answered', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '["01a220db-0c14-772a-8743-039f6f409440","agreed","telephone","Maren",[["01a220db-0c03-7125-a622-69c745268d84","agreed"],["01a220db-0c07-715c-9e30-3746210fcebd","agreed"]]]'),
(68, 1795847556126130, x'01a220db0a2774abb39b5f1560830134', 'desk', 'stage moved', 'job', x'01a220db0be072f6bedbb61f9d749d14', '{"stage":"quoted"}', '{"stage":"agreed"}'),
(69, 1795847556139209, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'taken on', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '"01a220db-0a7e-739f-8956-1dcca493edfd"'),
(70, 1795847556143584, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'labour started', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '["01a220db-0c2f-7568-916b-ebac3036e9f0","Lower and fit the saddle"]'),
(71, 1795847556143584, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'stage moved', 'job', x'01a220db0be072f6bedbb61f9d749d14', '{"stage":"agreed"}', '{"stage":"on-the-bench"}'),
(72, 1795847556147547, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'labour stopped', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '["01a220db-0c2f-7568-916b-ebac3036e9f0","Lower and fit the saddle"]'),
(73, 1795847556153178, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'labour corrected', 'job', x'01a220db0be072f6bedbb61f9d749d14', '["01a220db-0c2f-7568-916b-ebac3036e9f0",0,""]', '["01a220db-0c2f-7568-916b-ebac3036e9f0",20,"The clock was forgotten."]'),
(74, 1795847556163674, x'01a220db0a2774abb39b5f1560830134', 'office', 'part added', 'part', x'01a220db0c4370e98daaad2b1bdfa4f9', NULL, '{"name":"Bone saddle blank","unit":"piece","reorder_at":null,"cost":null,"price":900,"archived":false}'),
(75, 1795847556169752, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'part moved', 'part', x'01a220db0c4370e98daaad2b1bdfa4f9', NULL, '["Bone saddle blank","taken",-1000,-1000,""]'),
(76, 1795847556169752, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'part taken', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '["Bone saddle blank","taken",-1000,-1000,""]'),
(77, 1795847556180006, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'work line done', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '["Lower and fit the saddle","treble 2.4, bass 3.2"]'),
(78, 1795847556183684, x'01a220db0a2774abb39b5f1560830134', 'desk', 'payment taken', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '["deposit","cash",2000,""]'),
(79, 1795847556198838, x'01a220db0a2774abb39b5f1560830134', 'desk', 'photo added', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '["01a220db-0c66-756a-bb1b-fe2767f040d5",{"condition_mark_id":null,"caption":"The dent","for_customer":true,"set_aside":false}]'),
(80, 1795847556203729, x'01a220db0a2774abb39b5f1560830134', 'desk', 'signed by the customer', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '"condition"'),
(81, 1795847556216413, x'01a220db0a2774abb39b5f1560830134', 'desk', 'strings put on', 'instrument', x'01a220db0be072f6bedbb61e00a3712c', '["light, phosphor bronze",[{"pitch":"E4","gauge":305,"core":null,"material":"steel","wound":false,"linear_density_ug_per_m":null,"position":0},{"pitch":"B3","gauge":406,"core":null,"material":"steel","wound":false,"linear_density_ug_per_m":null,"position":10600},{"pitch":"G3","gauge":610,"core":280,"material":"steel","wound":true,"linear_density_ug_per_m":1700000,"position":21200},{"pitch":"D3","gauge":813,"core":330,"material":"steel","wound":true,"linear_density_ug_per_m":3050000,"position":31800},{"pitch":"A2","gauge":1067,"core":380,"material":"steel","wound":true,"linear_density_ug_per_m":5300000,"position":42400},{"pitch":"E2","gauge":1346,"core":430,"material":"steel","wound":true,"linear_density_ug_per_m":9170000,"position":53000}]]', '["Extra light, bronze, 0.25 to 1.19",[{"pitch":"E4","gauge":254,"core":null,"material":"steel","wound":false,"linear_density_ug_per_m":null,"position":0},{"pitch":"B3","gauge":356,"core":null,"material":"steel","wound":false,"linear_density_ug_per_m":null,"position":10600},{"pitch":"G3","gauge":584,"core":270,"material":"steel","wound":true,"linear_density_ug_per_m":1560000,"position":21200},{"pitch":"D3","gauge":762,"core":310,"material":"steel","wound":true,"linear_density_ug_per_m":2680000,"position":31800},{"pitch":"A2","gauge":991,"core":350,"material":"steel","wound":true,"linear_density_ug_per_m":4570000,"position":42400},{"pitch":"E2","gauge":1194,"core":380,"material":"steel","wound":true,"linear_density_ug_per_m":7220000,"position":53000}]]'),
(82, 1795847556224643, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'readings taken', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '[{"stage":"final","tuned_to":"standard","temperature_millicelsius":20000,"humidity_permille":480,"tool":"dial","tool_resolution":10,"tool_limit":20,"fret_wear":"","note":""},[{"kind":"height-12","string_number":1,"repeat":1,"value":1910,"typed":"1.91","carried":null},{"kind":"height-12","string_number":1,"repeat":2,"value":1920,"typed":"1.92","carried":null},{"kind":"height-12","string_number":1,"repeat":3,"value":1900,"typed":"1.90","carried":null},{"kind":"gap-1-stopped-3","string_number":1,"repeat":1,"value":70,"typed":"0.07","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"gap-1-stopped-3","string_number":1,"repeat":2,"value":80,"typed":"0.08","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"gap-1-stopped-3","string_number":1,"repeat":3,"value":70,"typed":"0.07","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"height-12","string_number":2,"repeat":1,"value":1990,"typed":"1.99","carried":null},{"kind":"height-12","string_number":2,"repeat":2,"value":2000,"typed":"2.00","carried":null},{"kind":"height-12","string_number":2,"repeat":3,"value":1980,"typed":"1.98","carried":null},{"kind":"gap-1-stopped-3","string_number":2,"repeat":1,"value":70,"typed":"0.07","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"gap-1-stopped-3","string_number":2,"repeat":2,"value":80,"typed":"0.08","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"gap-1-stopped-3","string_number":2,"repeat":3,"value":70,"typed":"0.07","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"height-12","string_number":3,"repeat":1,"value":2070,"typed":"2.07","carried":null},{"kind":"height-12","string_number":3,"repeat":2,"value":2080,"typed":"2.08","carried":null},{"kind":"height-12","string_number":3,"repeat":3,"value":2060,"typed":"2.06","carried":null},{"kind":"gap-1-stopped-3","string_number":3,"repeat":1,"value":70,"typed":"0.07","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"gap-1-stopped-3","string_number":3,"repeat":2,"value":80,"typed":"0.08","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"gap-1-stopped-3","string_number":3,"repeat":3,"value":70,"typed":"0.07","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"height-12","string_number":4,"repeat":1,"value":2150,"typed":"2.15","carried":null},{"kind":"height-12","string_number":4,"repeat":2,"value":2160,"typed":"2.16","carried":null},{"kind":"height-12","string_number":4,"repeat":3,"value":2140,"typed":"2.14","carried":null},{"kind":"gap-1-stopped-3","string_number":4,"repeat":1,"value":70,"typed":"0.07","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"gap-1-stopped-3","string_number":4,"repeat":2,"value":80,"typed":"0.08","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"gap-1-stopped-3","string_number":4,"repeat":3,"value":70,"typed":"0.07","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"height-12","string_number":5,"repeat":1,"value":2230,"typed":"2.23","carried":null},{"kind":"height-12","string_number":5,"repeat":2,"value":2240,"typed":"2.24","carried":null},{"kind":"height-12","string_number":5,"repeat":3,"value":2220,"typed":"2.22","carried":null},{"kind":"gap-1-stopped-3","string_number":5,"repeat":1,"value":70,"typed":"0.07","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"gap-1-stopped-3","string_number":5,"repeat":2,"value":80,"typed":"0.08","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"gap-1-stopped-3","string_number":5,"repeat":3,"value":70,"typed":"0.07","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"height-12","string_number":6,"repeat":1,"value":2310,"typed":"2.31","carried":null},{"kind":"height-12","string_number":6,"repeat":2,"value":2320,"typed":"2.32","carried":null},{"kind":"height-12","string_number":6,"repeat":3,"value":2300,"typed":"2.30","carried":null},{"kind":"gap-1-stopped-3","string_number":6,"repeat":1,"value":70,"typed":"0.07","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"gap-1-stopped-3","string_number":6,"repeat":2,"value":80,"typed":"0.08","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"gap-1-stopped-3","string_number":6,"repeat":3,"value":70,"typed":"0.07","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"relief","string_number":0,"repeat":1,"value":150,"typed":"0.15","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"relief","string_number":0,"repeat":2,"value":160,"typed":"0.16","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"relief","string_number":0,"repeat":3,"value":150,"typed":"0.15","carried":{"from":"01a220db-0bec-7631-8170-88d3defd7f60","read_at":1795847556076820,"tool":"dial","tool_resolution":10,"tool_limit":20}},{"kind":"saddle-treble","string_number":0,"repeat":1,"value":2400,"typed":"2.4","carried":null},{"kind":"saddle-bass","string_number":0,"repeat":1,"value":3200,"typed":"3.2","carried":null}]]'),
(83, 1795847556224643, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'stage moved', 'job', x'01a220db0be072f6bedbb61f9d749d14', '{"stage":"on-the-bench"}', '{"stage":"final-check"}'),
(84, 1795847556225881, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'plan made', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '"01a220db-0c81-75b0-bf47-bd82fcfdff91"'),
(85, 1795847556239742, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'final check answered', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '[["Every fret sounded on every string","yes",""],["A drop of oil at each tuner''s gear","yes",""],["Nut and saddle the right way round","yes",""],["Nut and saddle ramped to the front","yes",""],["Clean, with water and cotton only","yes",""],["Everything it came with is back in the case","yes",""]]'),
(86, 1795847556240790, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'observation left as it is', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '["crack, old, by the pickguard","Old and glued; she knows of it."]'),
(87, 1795847556248984, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'stage moved', 'job', x'01a220db0be072f6bedbb61f9d749d14', '{"stage":"final-check"}', '{"stage":"ready"}'),
(88, 1795847556248984, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'yearly care written', 'instrument', x'01a220db0be072f6bedbb61e00a3712c', NULL, '[2026,332]'),
(89, 1795847556251244, x'01a220db0a2774abb39b5f1560830134', 'desk', 'payment taken', 'job', x'01a220db0be072f6bedbb61f9d749d14', NULL, '["balance","card",2500,""]'),
(90, 1795847556259702, x'01a220db0a2774abb39b5f1560830134', 'desk', 'stage moved', 'job', x'01a220db0be072f6bedbb61f9d749d14', '{"stage":"ready"}', '{"stage":"collected"}'),
(93, 1795847556261065, x'01a220db0a2774abb39b5f1560830134', 'desk', 'checked in', 'job', x'01a220db0ca670ed986a5e1a729e1061', NULL, '{"id":"01a220db-0ca6-70ed-986a-5e1a729e1061","number":"26-0002","customer_id":"01a220db-0ca5-71c9-8224-bf28b1d70667","instrument_id":"01a220db-0ca5-71c9-8224-bf2966f53bda","earlier_job_id":null,"complaint":"New strings please.","style":"medium","brought_with":"hard case, strap","rack":"B3","staff_id":null,"promised_on":null,"stage":"checked-in","stage_since":1795847556261065,"waiting_for":null,"waiting_reason":null,"checked_in_at":1795847556261065,"link_number":0,"version":1}'),
(94, 1795847556261065, x'01a220db0a2774abb39b5f1560830134', 'desk', 'claim ticket printed', 'job', x'01a220db0ca670ed986a5e1a729e1061', NULL, NULL),
(95, 1795847556267778, x'01a220db0a7e739f89561dcca493edfd', 'bench', 'measuring begun', 'job', x'01a220db0ca670ed986a5e1a729e1061', NULL, '"01a220db-0cab-728a-949d-a383b0193aba"'),
(98, 1795847556277290, x'01a220db0a2774abb39b5f1560830134', 'desk', 'checked in', 'job', x'01a220db0cb572538f22f566d95b99e7', NULL, '{"id":"01a220db-0cb5-7253-8f22-f566d95b99e7","number":"26-0003","customer_id":"01a220db-0cb5-7253-8f22-f564f3ae2597","instrument_id":"01a220db-0cb5-7253-8f22-f5658f2b75a5","earlier_job_id":null,"complaint":"It buzzes when I dig in,\nmostly low down.","style":"medium","brought_with":"hard case, strap","rack":"B3","staff_id":null,"promised_on":null,"stage":"checked-in","stage_since":1795847556277290,"waiting_for":null,"waiting_reason":null,"checked_in_at":1795847556277290,"link_number":0,"version":1}'),
(99, 1795847556277290, x'01a220db0a2774abb39b5f1560830134', 'desk', 'claim ticket printed', 'job', x'01a220db0cb572538f22f566d95b99e7', NULL, NULL),
(102, 1795847556279594, x'01a220db0a2774abb39b5f1560830134', 'desk', 'checked in', 'job', x'01a220db0cb873a7913b3d75ffa19afe', NULL, '"anonymised"'),
(103, 1795847556279594, x'01a220db0a2774abb39b5f1560830134', 'desk', 'claim ticket printed', 'job', x'01a220db0cb873a7913b3d75ffa19afe', NULL, NULL),
(104, 1795847556285996, x'01a220db0a2774abb39b5f1560830134', 'desk', 'customer changed', 'customer', x'01a220db0ca571c98224bf28b1d70667', '{"id":"01a220db-0ca5-71c9-8224-bf28b1d70667","name":"Ilka Reedmoor","telephone":"01632 960202","telephone_e164":"+441632960202","email":"ilka@reedmoor.example","address":"","reach_by":"telephone","reminders_agreed_on":[2026,332],"note":"","merged_into":null,"archived_on":null,"anonymised_on":null,"version":1}', '{"id":"01a220db-0ca5-71c9-8224-bf28b1d70667","name":"Ilka Reedmoor","telephone":"01632 960202","telephone_e164":"+441632960202","email":"ilka@reedmoor.example","address":"","reach_by":"telephone","reminders_agreed_on":[2026,332],"note":"Also Ilka Reedmoore","merged_into":null,"archived_on":null,"anonymised_on":null,"version":2}'),
(105, 1795847556285996, x'01a220db0a2774abb39b5f1560830134', 'desk', 'merged into another record', 'customer', x'01a220db0cb572538f22f564f3ae2597', NULL, '{"from":{"id":"01a220db-0cb5-7253-8f22-f564f3ae2597","name":"Ilka Reedmoore","telephone":"01632 960202","telephone_e164":"+441632960202","email":"","address":"","reach_by":"telephone","reminders_agreed_on":[2026,332],"note":"","merged_into":null,"archived_on":null,"anonymised_on":null,"version":1},"into":"01a220db-0ca5-71c9-8224-bf28b1d70667","instruments":["01a220db-0cb5-7253-8f22-f5658f2b75a5"],"jobs":["01a220db-0cb5-7253-8f22-f566d95b99e7"]}'),
(106, 1795847556285996, x'01a220db0a2774abb39b5f1560830134', 'desk', 'another record merged in', 'customer', x'01a220db0ca571c98224bf28b1d70667', NULL, '{"from":{"id":"01a220db-0cb5-7253-8f22-f564f3ae2597","name":"Ilka Reedmoore","telephone":"01632 960202","telephone_e164":"+441632960202","email":"","address":"","reach_by":"telephone","reminders_agreed_on":[2026,332],"note":"","merged_into":null,"archived_on":null,"anonymised_on":null,"version":1},"into":"01a220db-0ca5-71c9-8224-bf28b1d70667","instruments":["01a220db-0cb5-7253-8f22-f5658f2b75a5"],"jobs":["01a220db-0cb5-7253-8f22-f566d95b99e7"]}'),
(107, 1795847556295080, x'01a220db0a2774abb39b5f1560830134', 'desk', 'stage moved', 'job', x'01a220db0cb873a7913b3d75ffa19afe', '{"stage":"checked-in"}', '{"stage":"closed-unrepaired"}'),
(108, 1795847556301116, x'01a220db0a2774abb39b5f1560830134', 'desk', 'instrument changed hands', 'instrument', x'01a220db0cb773b986ea22f0b02adb99', '"01a220db-0cb7-73b9-86ea-22ef2d545a28"', '"01a220db-0ca5-71c9-8224-bf28b1d70667"'),
(109, 1795847556311400, x'01a220db0a2774abb39b5f1560830134', 'office', 'customer anonymised', 'customer', x'01a220db0cb773b986ea22ef2d545a28', NULL, '[2026,332]'),
(110, 1795847556327857, x'01a220db0a2774abb39b5f1560830134', 'office', 'API token made', 'api_token', x'01a220db0ce77558acfb3a5454134a3d', NULL, '{"name":"the accountant"}'),
(111, 1795847556336652, x'01a220db0a2774abb39b5f1560830134', 'office', 'file read for import', 'import', x'01a220db0cf074ce90eec40655e05a00', NULL, '["people.csv",1]');
INSERT OR REPLACE INTO customer (id, name, name_folded, telephone, telephone_e164, telephone_digits, email, address, reach_by, reminders_agreed_on, note, created_at, form_key, version, merged_into, archived_on, anonymised_on) VALUES
(x'01a220db0b5f74b0b63c06c771ca3359', 'Maren Oakhollow', 'maren oakhollow', '01632 960101', '+441632960101', '01632960101', 'maren@oakhollow.example', '', 'telephone', '2026-11-28', '', 1795847555934942, 'one', 1, NULL, NULL, NULL),
(x'01a220db0ca571c98224bf28b1d70667', 'Ilka Reedmoor', 'ilka reedmoor', '01632 960202', '+441632960202', '01632960202', 'ilka@reedmoor.example', '', 'telephone', '2026-11-28', 'Also Ilka Reedmoore', 1795847556261065, 'two', 2, NULL, NULL, NULL),
(x'01a220db0cb572538f22f564f3ae2597', 'Ilka Reedmoore', 'ilka reedmoore', '01632 960202', '+441632960202', '01632960202', '', '', 'telephone', '2026-11-28', '', 1795847556277290, 'three', 2, x'01a220db0ca571c98224bf28b1d70667', NULL, NULL),
(x'01a220db0cb773b986ea22ef2d545a28', 'Anonymised', 'anonymised', '', NULL, '', '', '', 'telephone', NULL, '', 1795847556279594, 'four', 2, NULL, '2026-11-28', '2026-11-28');
INSERT OR REPLACE INTO instrument (id, customer_id, family, maker, model, serial, year, finish, handedness, scale_um, frets, body_fret, radius_nut_um, radius_end_um, courses, truss_rod, bridge, saddle, nut_material, saddle_material, string_set, top_wood, top_width_um, note, created_at, form_key, version, archived_on) VALUES
(x'01a220db0be072f6bedbb61e00a3712c', x'01a220db0b5f74b0b63c06c771ca3359', 'steel-string', 'Thistlewade', 'OM-2', 'TW-4471', NULL, '', 'right', 645000, 20, 14, 406000, 406000, 6, 'two-way', 'pin bridge', 'glued-in or drop-in saddle in an open slot', 'bone', 'bone', 'Extra light, bronze, 0.25 to 1.19', '', NULL, '', 1795847555934942, 'one', 2, NULL),
(x'01a220db0ca571c98224bf2966f53bda', x'01a220db0ca571c98224bf28b1d70667', 'steel-string', 'Brookside', 'Rill', 'B-7', NULL, '', 'right', 645000, 20, 14, 406000, 406000, 6, 'two-way', 'pin bridge', 'glued-in or drop-in saddle in an open slot', 'bone', 'bone', 'light, phosphor bronze', '', NULL, '', 1795847556261065, 'two', 1, NULL),
(x'01a220db0cb572538f22f5658f2b75a5', x'01a220db0ca571c98224bf28b1d70667', 'steel-string', 'Weirside', 'Eddy', 'W-1', NULL, '', 'right', 645000, 20, 14, 406000, 406000, 6, 'two-way', 'pin bridge', 'glued-in or drop-in saddle in an open slot', 'bone', 'bone', 'light, phosphor bronze', '', NULL, '', 1795847556277290, 'three', 2, NULL),
(x'01a220db0cb773b986ea22f0b02adb99', x'01a220db0ca571c98224bf28b1d70667', 'steel-string', 'Weirside', 'Pool', 'W-2', NULL, '', 'right', 645000, 20, 14, 406000, 406000, 6, 'two-way', 'pin bridge', 'glued-in or drop-in saddle in an open slot', 'bone', 'bone', 'light, phosphor bronze', '', NULL, '', 1795847556279594, 'four', 2, NULL);
INSERT OR REPLACE INTO instrument_string (instrument_id, number, pitch, gauge_um, core_um, material, wound, linear_density_ug_per_m, position_um) VALUES
(x'01a220db0be072f6bedbb61e00a3712c', 1, 'E4', 254, NULL, 'steel', 0, NULL, 0),
(x'01a220db0be072f6bedbb61e00a3712c', 2, 'B3', 356, NULL, 'steel', 0, NULL, 10600),
(x'01a220db0be072f6bedbb61e00a3712c', 3, 'G3', 584, 270, 'steel', 1, 1560000, 21200),
(x'01a220db0be072f6bedbb61e00a3712c', 4, 'D3', 762, 310, 'steel', 1, 2680000, 31800),
(x'01a220db0be072f6bedbb61e00a3712c', 5, 'A2', 991, 350, 'steel', 1, 4570000, 42400),
(x'01a220db0be072f6bedbb61e00a3712c', 6, 'E2', 1194, 380, 'steel', 1, 7220000, 53000),
(x'01a220db0ca571c98224bf2966f53bda', 1, 'E4', 305, NULL, 'steel', 0, NULL, 0),
(x'01a220db0ca571c98224bf2966f53bda', 2, 'B3', 406, NULL, 'steel', 0, NULL, 10600),
(x'01a220db0ca571c98224bf2966f53bda', 3, 'G3', 610, 280, 'steel', 1, 1700000, 21200),
(x'01a220db0ca571c98224bf2966f53bda', 4, 'D3', 813, 330, 'steel', 1, 3050000, 31800),
(x'01a220db0ca571c98224bf2966f53bda', 5, 'A2', 1067, 380, 'steel', 1, 5300000, 42400),
(x'01a220db0ca571c98224bf2966f53bda', 6, 'E2', 1346, 430, 'steel', 1, 9170000, 53000),
(x'01a220db0cb572538f22f5658f2b75a5', 1, 'E4', 305, NULL, 'steel', 0, NULL, 0),
(x'01a220db0cb572538f22f5658f2b75a5', 2, 'B3', 406, NULL, 'steel', 0, NULL, 10600),
(x'01a220db0cb572538f22f5658f2b75a5', 3, 'G3', 610, 280, 'steel', 1, 1700000, 21200),
(x'01a220db0cb572538f22f5658f2b75a5', 4, 'D3', 813, 330, 'steel', 1, 3050000, 31800),
(x'01a220db0cb572538f22f5658f2b75a5', 5, 'A2', 1067, 380, 'steel', 1, 5300000, 42400),
(x'01a220db0cb572538f22f5658f2b75a5', 6, 'E2', 1346, 430, 'steel', 1, 9170000, 53000),
(x'01a220db0cb773b986ea22f0b02adb99', 1, 'E4', 305, NULL, 'steel', 0, NULL, 0),
(x'01a220db0cb773b986ea22f0b02adb99', 2, 'B3', 406, NULL, 'steel', 0, NULL, 10600),
(x'01a220db0cb773b986ea22f0b02adb99', 3, 'G3', 610, 280, 'steel', 1, 1700000, 21200),
(x'01a220db0cb773b986ea22f0b02adb99', 4, 'D3', 813, 330, 'steel', 1, 3050000, 31800),
(x'01a220db0cb773b986ea22f0b02adb99', 5, 'A2', 1067, 380, 'steel', 1, 5300000, 42400),
(x'01a220db0cb773b986ea22f0b02adb99', 6, 'E2', 1346, 430, 'steel', 1, 9170000, 53000);
INSERT OR REPLACE INTO care_plan (id, instrument_id, kind, every_months, suits_month, last_done_on, next_due_on, paused, version) VALUES
(x'01a220db0c997716827d848db8ef210c', x'01a220db0be072f6bedbb61e00a3712c', 'oil-tuners', 12, NULL, '2026-11-28', '2027-11-28', 0, 1),
(x'01a220db0c997716827d848ebcaa97f4', x'01a220db0be072f6bedbb61e00a3712c', 'look-over', 12, NULL, '2026-11-28', '2027-11-28', 0, 1),
(x'01a220db0c997716827d848fc8790bf6', x'01a220db0be072f6bedbb61e00a3712c', 'rehydrate', 12, 10, '2026-11-28', '2027-10-01', 0, 1);
INSERT OR REPLACE INTO job (id, year, serial, number, customer_id, instrument_id, earlier_job_id, complaint, style, brought_with, rack, staff_id, promised_on, stage, stage_since, waiting_for, waiting_reason, checked_in_at, link_hash, form_key, version, link_number, link_made_at) VALUES
(x'01a220db0be072f6bedbb61f9d749d14', 26, 1, '26-0001', x'01a220db0b5f74b0b63c06c771ca3359', x'01a220db0be072f6bedbb61e00a3712c', NULL, 'It buzzes when I dig in,
mostly low down.', 'medium', 'hard case, strap', 'B3', x'01a220db0a7e739f89561dcca493edfd', NULL, 'collected', 1795847556259702, NULL, NULL, 1795847555934942, x'8d257542017eada92d8be28a4f61adac434f2a60236f675cf08a742a433a6799', 'one', 9, 0, NULL),
(x'01a220db0ca670ed986a5e1a729e1061', 26, 2, '26-0002', x'01a220db0ca571c98224bf28b1d70667', x'01a220db0ca571c98224bf2966f53bda', NULL, 'New strings please.', 'medium', 'hard case, strap', 'B3', NULL, NULL, 'checked-in', 1795847556261065, NULL, NULL, 1795847556261065, x'dc0ea933db4e3dff5e2f005625bedb263b186f56fdca1e4565a22dd0b896fd4a', 'two', 1, 0, NULL),
(x'01a220db0cb572538f22f566d95b99e7', 26, 3, '26-0003', x'01a220db0ca571c98224bf28b1d70667', x'01a220db0cb572538f22f5658f2b75a5', NULL, 'It buzzes when I dig in,
mostly low down.', 'medium', 'hard case, strap', 'B3', NULL, NULL, 'checked-in', 1795847556277290, NULL, NULL, 1795847556277290, x'4273a8fee17fbdf2e3ee75d95a657c1f9c4e5fb2ca3b441528cf2f50e542779b', 'three', 2, 0, NULL),
(x'01a220db0cb873a7913b3d75ffa19afe', 26, 4, '26-0004', x'01a220db0cb773b986ea22ef2d545a28', x'01a220db0cb773b986ea22f0b02adb99', NULL, 'anonymised', 'medium', '', 'B3', NULL, NULL, 'closed-unrepaired', 1795847556295080, NULL, NULL, 1795847556279594, x'0943e1f0923c3836b536c57ee2c5412ad19e4926cb7d0e3b72e34a0d6af99965', 'four', 3, 0, NULL);
INSERT OR REPLACE INTO condition_mark (id, job_id, number, side, note, x_permille, y_permille, made_at, form_key, taken_back_at) VALUES
(x'01a220db0be17254815f5bcf486f9387', x'01a220db0be072f6bedbb61f9d749d14', 1, 'front', 'dent below the bridge', NULL, NULL, 1795847555934942, 'one-0', NULL),
(x'01a220db0be570b6bb80ec6435d6c285', x'01a220db0be072f6bedbb61f9d749d14', 2, 'back', 'buckle rash', NULL, NULL, 1795847556069030, 'c', NULL);
INSERT OR REPLACE INTO reading_set (id, job_id, stage, taken_at, staff_id, tuned_to, temperature_millicelsius, humidity_permille, tool, tool_resolution_um, tool_limit_um, fret_wear, note, form_key, version) VALUES
(x'01a220db0bec7631817088d3defd7f60', x'01a220db0be072f6bedbb61f9d749d14', 'received', 1795847556076820, x'01a220db0a7e739f89561dcca493edfd', 'standard', 20000, 480, 'dial', 10, 20, '', 'New strings on.', 'r1', 1),
(x'01a220db0c8070e7b9966b3900e5ddd6', x'01a220db0be072f6bedbb61f9d749d14', 'final', 1795847556224643, x'01a220db0a7e739f89561dcca493edfd', 'standard', 20000, 480, 'dial', 10, 20, '', '', 'r2', 1);
INSERT OR REPLACE INTO reading (reading_set_id, kind, string_number, repeat, value, typed, carried_from, read_at, tool, tool_resolution_um, tool_limit_um) VALUES
(x'01a220db0bec7631817088d3defd7f60', 'gap-1-stopped-3', 1, 1, 70, '0.07', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'gap-1-stopped-3', 1, 2, 80, '0.08', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'gap-1-stopped-3', 1, 3, 70, '0.07', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'gap-1-stopped-3', 2, 1, 70, '0.07', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'gap-1-stopped-3', 2, 2, 80, '0.08', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'gap-1-stopped-3', 2, 3, 70, '0.07', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'gap-1-stopped-3', 3, 1, 70, '0.07', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'gap-1-stopped-3', 3, 2, 80, '0.08', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'gap-1-stopped-3', 3, 3, 70, '0.07', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'gap-1-stopped-3', 4, 1, 70, '0.07', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'gap-1-stopped-3', 4, 2, 80, '0.08', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'gap-1-stopped-3', 4, 3, 70, '0.07', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'gap-1-stopped-3', 5, 1, 70, '0.07', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'gap-1-stopped-3', 5, 2, 80, '0.08', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'gap-1-stopped-3', 5, 3, 70, '0.07', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'gap-1-stopped-3', 6, 1, 70, '0.07', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'gap-1-stopped-3', 6, 2, 80, '0.08', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'gap-1-stopped-3', 6, 3, 70, '0.07', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'height-12', 1, 1, 2500, '2.50', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'height-12', 1, 2, 2510, '2.51', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'height-12', 1, 3, 2490, '2.49', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'height-12', 2, 1, 2580, '2.58', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'height-12', 2, 2, 2590, '2.59', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'height-12', 2, 3, 2570, '2.57', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'height-12', 3, 1, 2660, '2.66', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'height-12', 3, 2, 2670, '2.67', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'height-12', 3, 3, 2650, '2.65', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'height-12', 4, 1, 2740, '2.74', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'height-12', 4, 2, 2750, '2.75', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'height-12', 4, 3, 2730, '2.73', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'height-12', 5, 1, 2820, '2.82', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'height-12', 5, 2, 2830, '2.83', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'height-12', 5, 3, 2810, '2.81', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'height-12', 6, 1, 2900, '2.90', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'height-12', 6, 2, 2910, '2.91', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'height-12', 6, 3, 2890, '2.89', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'relief', 0, 1, 150, '0.15', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'relief', 0, 2, 160, '0.16', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'relief', 0, 3, 150, '0.15', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'saddle-bass', 0, 1, 4400, '4.4', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0bec7631817088d3defd7f60', 'saddle-treble', 0, 1, 3600, '3.6', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'gap-1-stopped-3', 1, 1, 70, '0.07', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'gap-1-stopped-3', 1, 2, 80, '0.08', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'gap-1-stopped-3', 1, 3, 70, '0.07', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'gap-1-stopped-3', 2, 1, 70, '0.07', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'gap-1-stopped-3', 2, 2, 80, '0.08', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'gap-1-stopped-3', 2, 3, 70, '0.07', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'gap-1-stopped-3', 3, 1, 70, '0.07', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'gap-1-stopped-3', 3, 2, 80, '0.08', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'gap-1-stopped-3', 3, 3, 70, '0.07', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'gap-1-stopped-3', 4, 1, 70, '0.07', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'gap-1-stopped-3', 4, 2, 80, '0.08', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'gap-1-stopped-3', 4, 3, 70, '0.07', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'gap-1-stopped-3', 5, 1, 70, '0.07', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'gap-1-stopped-3', 5, 2, 80, '0.08', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'gap-1-stopped-3', 5, 3, 70, '0.07', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'gap-1-stopped-3', 6, 1, 70, '0.07', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'gap-1-stopped-3', 6, 2, 80, '0.08', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'gap-1-stopped-3', 6, 3, 70, '0.07', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'height-12', 1, 1, 1910, '1.91', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'height-12', 1, 2, 1920, '1.92', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'height-12', 1, 3, 1900, '1.90', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'height-12', 2, 1, 1990, '1.99', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'height-12', 2, 2, 2000, '2.00', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'height-12', 2, 3, 1980, '1.98', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'height-12', 3, 1, 2070, '2.07', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'height-12', 3, 2, 2080, '2.08', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'height-12', 3, 3, 2060, '2.06', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'height-12', 4, 1, 2150, '2.15', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'height-12', 4, 2, 2160, '2.16', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'height-12', 4, 3, 2140, '2.14', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'height-12', 5, 1, 2230, '2.23', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'height-12', 5, 2, 2240, '2.24', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'height-12', 5, 3, 2220, '2.22', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'height-12', 6, 1, 2310, '2.31', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'height-12', 6, 2, 2320, '2.32', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'height-12', 6, 3, 2300, '2.30', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'relief', 0, 1, 150, '0.15', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'relief', 0, 2, 160, '0.16', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'relief', 0, 3, 150, '0.15', x'01a220db0bec7631817088d3defd7f60', 1795847556076820, 'dial', 10, 20),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'saddle-bass', 0, 1, 3200, '3.2', NULL, NULL, NULL, NULL, NULL),
(x'01a220db0c8070e7b9966b3900e5ddd6', 'saddle-treble', 0, 1, 2400, '2.4', NULL, NULL, NULL, NULL, NULL);
INSERT OR REPLACE INTO observation (id, job_id, key, string_number, fret, note, staff_id, seen_at, cleared_at, form_key, taken_back) VALUES
(x'01a220db0bf67175881fbd2c68e5d055', x'01a220db0be072f6bedbb61f9d749d14', 'crack', NULL, NULL, 'old, by the pickguard', x'01a220db0a7e739f89561dcca493edfd', 1795847556086187, NULL, 'o', 0),
(x'01a220db0bf875e2a289c21f16a65464', x'01a220db0be072f6bedbb61f9d749d14', 'buzz', 6, 3, '', x'01a220db0a7e739f89561dcca493edfd', 1795847556088649, 1795847556091651, 'o2', 0);
INSERT OR REPLACE INTO plan (id, job_id, reading_set_id, engine_version, input_json, output_json, made_at, staff_id) VALUES
(x'01a220db0bf372929779a2dedf451a7b', x'01a220db0be072f6bedbb61f9d749d14', x'01a220db0bec7631817088d3defd7f60', '3', '{"instrument":{"family":"steel-string","scale_mm":645.0,"frets":20,"body_fret":14,"truss_rod":"two-way","saddle_setback_mm":0.0,"board_radius_mm":{"nut":406.0,"end":406.0,"end_at_mm":441.83773070445164},"strings":[{"pitch":"E4","material":"steel","diameter_mm":0.305,"wound":false,"position_mm":0.0},{"pitch":"B3","material":"steel","diameter_mm":0.406,"wound":false,"position_mm":10.6},{"pitch":"G3","material":"steel","diameter_mm":0.61,"core_diameter_mm":0.28,"linear_density_g_m":1.7,"wound":true,"position_mm":21.2},{"pitch":"D3","material":"steel","diameter_mm":0.813,"core_diameter_mm":0.33,"linear_density_g_m":3.05,"wound":true,"position_mm":31.8},{"pitch":"A2","material":"steel","diameter_mm":1.067,"core_diameter_mm":0.38,"linear_density_g_m":5.3,"wound":true,"position_mm":42.4},{"pitch":"E2","material":"steel","diameter_mm":1.346,"core_diameter_mm":0.43,"linear_density_g_m":9.17,"wound":true,"position_mm":53.0}]},"style":"medium","air":{"temperature_c":20.0,"rh_percent":48.0},"tool":{"resolution_mm":0.01,"limit_mm":0.02},"readings":{"relief_mm":[0.15,0.16,0.15],"saddle_showing_mm":{"treble":[3.6],"bass":[4.4]},"strings":[{"action_12_mm":[2.5,2.51,2.49],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.58,2.59,2.57],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.66,2.67,2.65],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.74,2.75,2.73],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.82,2.83,2.81],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.9,2.91,2.89],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]}]},"observations":[]}', '{"findings":[{"key":"saddle-high","severity":"work","words":"The strings stand high at the 12th on all strings, by up to 0.60 mm (2.90 ± 0.03 mm where 2.30 mm is wished): they are hard to press.","strings":[1,2,3,4,5,6],"numbers":{"action_12_mm":2.9000000000000004,"expanded_mm":0.026511020564091315,"over_target_mm":0.6000000000000005,"target_mm":2.3},"causes":[],"service":"saddle-lower"},{"key":"tuners-dry","severity":"fine","words":"The tuners'' gears get their yearly drop of oil.","strings":[],"numbers":{},"causes":[]},{"key":"clean","severity":"fine","words":"It leaves clean.","strings":[],"numbers":{},"causes":[],"service":"clean-polish"}],"steps":[{"key":"saddle-high","state":"now","cut":{"strings":[{"exact_mm":1.2000000000000002,"standard_uncertainty_mm":0.03999999999999993,"expanded_mm":0.08015770580913734,"first_pass_mm":1.11,"on_top_mm":0.0},{"exact_mm":1.2000000000000002,"standard_uncertainty_mm":0.04,"expanded_mm":0.08015770580914235,"first_pass_mm":1.11,"on_top_mm":0.0},{"exact_mm":1.2000000000000002,"standard_uncertainty_mm":0.04,"expanded_mm":0.08015770580914235,"first_pass_mm":1.11,"on_top_mm":0.0},{"exact_mm":1.200000000000001,"standard_uncertainty_mm":0.04,"expanded_mm":0.08015770580914235,"first_pass_mm":1.11,"on_top_mm":8.881784197001252e-16},{"exact_mm":1.200000000000001,"standard_uncertainty_mm":0.04,"expanded_mm":0.08015770580914235,"first_pass_mm":1.11,"on_top_mm":8.881784197001252e-16},{"exact_mm":1.200000000000001,"standard_uncertainty_mm":0.04,"expanded_mm":0.08015770580914235,"first_pass_mm":1.11,"on_top_mm":8.881784197001252e-16}],"foot":{"treble_mm":1.2000000000000002,"bass_mm":1.2000000000000002,"treble_expanded_mm":0.07872940694457108,"bass_expanded_mm":0.07872940694457108},"foot_first_pass":{"treble_mm":1.11,"bass_mm":1.11},"left_showing_mm":{"treble":2.4,"bass":3.2},"left_showing_expanded_mm":{"treble":0.08211288683336421,"bass":0.08211288683336421},"raise":[],"stops":[],"top":{"board_radius_mm":406.0,"top_radius_mm":410.2,"strings":[{"ideal_over_chord_mm":0.0,"present_over_chord_mm":0.0,"after_cut_over_chord_mm":0.0},{"ideal_over_chord_mm":0.5486094740023957,"present_over_chord_mm":0.5473254350485263,"after_cut_over_chord_mm":0.5489320822588638},{"ideal_over_chord_mm":0.8226390427509338,"present_over_chord_mm":0.8203949684953045,"after_cut_over_chord_mm":0.8228006466134843},{"ideal_over_chord_mm":0.8226390427509338,"present_over_chord_mm":0.8200752756187513,"after_cut_over_chord_mm":0.8224790744179586},{"ideal_over_chord_mm":0.5486094740023957,"present_over_chord_mm":0.5466854113732552,"after_cut_over_chord_mm":0.5482882924299247},{"ideal_over_chord_mm":0.0,"present_over_chord_mm":0.0,"after_cut_over_chord_mm":0.0}]}},"words":"First pass: 1.11 mm off the foot at the treble end and 1.11 mm at the bass end, straight and square. Fit, tune, let it settle. Read the heights again, then plan the rest."},{"key":"tuners-dry","state":"after-measuring-again","words":"A drop of oil at each tuner''s gear; wipe off what runs."},{"key":"clean","state":"after-measuring-again","words":"Clean with water and a cotton cloth only; dry at once."}],"stopped":false,"measure_again":["action_12_mm","first_fret_mm","saddle_showing_mm","cents_at_12"],"cautions":["bone-dust","string-tension"]}', 1795847556083442, x'01a220db0a7e739f89561dcca493edfd'),
(x'01a220db0bf67175881fbd2d26a6bf56', x'01a220db0be072f6bedbb61f9d749d14', x'01a220db0bec7631817088d3defd7f60', '3', '{"instrument":{"family":"steel-string","scale_mm":645.0,"frets":20,"body_fret":14,"truss_rod":"two-way","saddle_setback_mm":0.0,"board_radius_mm":{"nut":406.0,"end":406.0,"end_at_mm":441.83773070445164},"strings":[{"pitch":"E4","material":"steel","diameter_mm":0.305,"wound":false,"position_mm":0.0},{"pitch":"B3","material":"steel","diameter_mm":0.406,"wound":false,"position_mm":10.6},{"pitch":"G3","material":"steel","diameter_mm":0.61,"core_diameter_mm":0.28,"linear_density_g_m":1.7,"wound":true,"position_mm":21.2},{"pitch":"D3","material":"steel","diameter_mm":0.813,"core_diameter_mm":0.33,"linear_density_g_m":3.05,"wound":true,"position_mm":31.8},{"pitch":"A2","material":"steel","diameter_mm":1.067,"core_diameter_mm":0.38,"linear_density_g_m":5.3,"wound":true,"position_mm":42.4},{"pitch":"E2","material":"steel","diameter_mm":1.346,"core_diameter_mm":0.43,"linear_density_g_m":9.17,"wound":true,"position_mm":53.0}]},"style":"medium","air":{"temperature_c":20.0,"rh_percent":48.0},"tool":{"resolution_mm":0.01,"limit_mm":0.02},"readings":{"relief_mm":[0.15,0.16,0.15],"saddle_showing_mm":{"treble":[3.6],"bass":[4.4]},"strings":[{"action_12_mm":[2.5,2.51,2.49],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.58,2.59,2.57],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.66,2.67,2.65],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.74,2.75,2.73],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.82,2.83,2.81],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.9,2.91,2.89],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]}]},"observations":[{"key":"crack","at":"old, by the pickguard"}]}', '{"findings":[{"key":"crack","severity":"stop","words":"There is a crack. Strings pull on it whatever the setup says. This is beyond a setup.","strings":[],"numbers":{},"causes":[],"service":"crack-repair"},{"key":"saddle-high","severity":"work","words":"The strings stand high at the 12th on all strings, by up to 0.60 mm (2.90 ± 0.03 mm where 2.30 mm is wished): they are hard to press.","strings":[1,2,3,4,5,6],"numbers":{"action_12_mm":2.9000000000000004,"expanded_mm":0.026511020564091315,"over_target_mm":0.6000000000000005,"target_mm":2.3},"causes":[],"service":"saddle-lower"},{"key":"tuners-dry","severity":"fine","words":"The tuners'' gears get their yearly drop of oil.","strings":[],"numbers":{},"causes":[]},{"key":"clean","severity":"fine","words":"It leaves clean.","strings":[],"numbers":{},"causes":[],"service":"clean-polish"}],"steps":[{"key":"crack","state":"offer","words":"Quote the crack''s repair: bring the moisture back first, then glue and cleat."},{"key":"saddle-high","state":"offer","words":"Lower the saddle as far as it is still high, once what comes before it is settled and the heights are read again."},{"key":"tuners-dry","state":"offer","words":"A drop of oil at each tuner''s gear; wipe off what runs."},{"key":"clean","state":"offer","words":"Clean with water and a cotton cloth only; dry at once."}],"stopped":true,"measure_again":[],"cautions":["slacken-before-glue"]}', 1795847556086928, x'01a220db0a7e739f89561dcca493edfd'),
(x'01a220db0bf973b98e4ee8886342d9e1', x'01a220db0be072f6bedbb61f9d749d14', x'01a220db0bec7631817088d3defd7f60', '3', '{"instrument":{"family":"steel-string","scale_mm":645.0,"frets":20,"body_fret":14,"truss_rod":"two-way","saddle_setback_mm":0.0,"board_radius_mm":{"nut":406.0,"end":406.0,"end_at_mm":441.83773070445164},"strings":[{"pitch":"E4","material":"steel","diameter_mm":0.305,"wound":false,"position_mm":0.0},{"pitch":"B3","material":"steel","diameter_mm":0.406,"wound":false,"position_mm":10.6},{"pitch":"G3","material":"steel","diameter_mm":0.61,"core_diameter_mm":0.28,"linear_density_g_m":1.7,"wound":true,"position_mm":21.2},{"pitch":"D3","material":"steel","diameter_mm":0.813,"core_diameter_mm":0.33,"linear_density_g_m":3.05,"wound":true,"position_mm":31.8},{"pitch":"A2","material":"steel","diameter_mm":1.067,"core_diameter_mm":0.38,"linear_density_g_m":5.3,"wound":true,"position_mm":42.4},{"pitch":"E2","material":"steel","diameter_mm":1.346,"core_diameter_mm":0.43,"linear_density_g_m":9.17,"wound":true,"position_mm":53.0}]},"style":"medium","air":{"temperature_c":20.0,"rh_percent":48.0},"tool":{"resolution_mm":0.01,"limit_mm":0.02},"readings":{"relief_mm":[0.15,0.16,0.15],"saddle_showing_mm":{"treble":[3.6],"bass":[4.4]},"strings":[{"action_12_mm":[2.5,2.51,2.49],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.58,2.59,2.57],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.66,2.67,2.65],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.74,2.75,2.73],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.82,2.83,2.81],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.9,2.91,2.89],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]}]},"observations":[{"key":"crack","at":"old, by the pickguard"},{"key":"buzz","string":6,"fret":3}]}', '{"findings":[{"key":"crack","severity":"stop","words":"There is a crack. Strings pull on it whatever the setup says. This is beyond a setup.","strings":[],"numbers":{},"causes":[],"service":"crack-repair"},{"key":"saddle-high","severity":"work","words":"The strings stand high at the 12th on all strings, by up to 0.60 mm (2.90 ± 0.03 mm where 2.30 mm is wished): they are hard to press.","strings":[1,2,3,4,5,6],"numbers":{"action_12_mm":2.9000000000000004,"expanded_mm":0.026511020564091315,"over_target_mm":0.6000000000000005,"target_mm":2.3},"causes":[],"service":"saddle-lower"},{"key":"fret-high","severity":"watch","words":"Suspected: It touches when stopped at fret 3 and nowhere else: fret 4 stands high.","strings":[],"numbers":{},"causes":[]},{"key":"buzz","severity":"watch","words":"Buzzes when stopped at fret 3 on string 6.","strings":[6],"numbers":{},"causes":[{"key":"fret-high","reason":"It touches when stopped at fret 3 and nowhere else: fret 4 stands high.","check":"Rock a short straightedge over three frets at a time."},{"key":"relief-too-little","reason":"Stopped at frets 1 to 4 the string clears the middle of the neck only through relief. Less likely: relief reads 0.15 ± 0.02 mm, as it should.","check":"Read relief half-way between fret 1 and the body joint."}]},{"key":"tuners-dry","severity":"fine","words":"The tuners'' gears get their yearly drop of oil.","strings":[],"numbers":{},"causes":[]},{"key":"clean","severity":"fine","words":"It leaves clean.","strings":[],"numbers":{},"causes":[],"service":"clean-polish"}],"steps":[{"key":"crack","state":"offer","words":"Quote the crack''s repair: bring the moisture back first, then glue and cleat."},{"key":"saddle-high","state":"offer","words":"Lower the saddle as far as it is still high, once what comes before it is settled and the heights are read again."},{"key":"fret-high","state":"offer","words":"Rock a short straightedge over three frets at a time around fret 4; level only what rocks."},{"key":"tuners-dry","state":"offer","words":"A drop of oil at each tuner''s gear; wipe off what runs."},{"key":"clean","state":"offer","words":"Clean with water and a cotton cloth only; dry at once."}],"stopped":true,"measure_again":[],"cautions":["slacken-before-glue"]}', 1795847556089244, x'01a220db0a7e739f89561dcca493edfd'),
(x'01a220db0bfc712d8d1f78d9619c43d6', x'01a220db0be072f6bedbb61f9d749d14', x'01a220db0bec7631817088d3defd7f60', '3', '{"instrument":{"family":"steel-string","scale_mm":645.0,"frets":20,"body_fret":14,"truss_rod":"two-way","saddle_setback_mm":0.0,"board_radius_mm":{"nut":406.0,"end":406.0,"end_at_mm":441.83773070445164},"strings":[{"pitch":"E4","material":"steel","diameter_mm":0.305,"wound":false,"position_mm":0.0},{"pitch":"B3","material":"steel","diameter_mm":0.406,"wound":false,"position_mm":10.6},{"pitch":"G3","material":"steel","diameter_mm":0.61,"core_diameter_mm":0.28,"linear_density_g_m":1.7,"wound":true,"position_mm":21.2},{"pitch":"D3","material":"steel","diameter_mm":0.813,"core_diameter_mm":0.33,"linear_density_g_m":3.05,"wound":true,"position_mm":31.8},{"pitch":"A2","material":"steel","diameter_mm":1.067,"core_diameter_mm":0.38,"linear_density_g_m":5.3,"wound":true,"position_mm":42.4},{"pitch":"E2","material":"steel","diameter_mm":1.346,"core_diameter_mm":0.43,"linear_density_g_m":9.17,"wound":true,"position_mm":53.0}]},"style":"medium","air":{"temperature_c":20.0,"rh_percent":48.0},"tool":{"resolution_mm":0.01,"limit_mm":0.02},"readings":{"relief_mm":[0.15,0.16,0.15],"saddle_showing_mm":{"treble":[3.6],"bass":[4.4]},"strings":[{"action_12_mm":[2.5,2.51,2.49],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.58,2.59,2.57],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.66,2.67,2.65],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.74,2.75,2.73],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.82,2.83,2.81],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.9,2.91,2.89],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]}]},"observations":[{"key":"crack","at":"old, by the pickguard"}]}', '{"findings":[{"key":"crack","severity":"stop","words":"There is a crack. Strings pull on it whatever the setup says. This is beyond a setup.","strings":[],"numbers":{},"causes":[],"service":"crack-repair"},{"key":"saddle-high","severity":"work","words":"The strings stand high at the 12th on all strings, by up to 0.60 mm (2.90 ± 0.03 mm where 2.30 mm is wished): they are hard to press.","strings":[1,2,3,4,5,6],"numbers":{"action_12_mm":2.9000000000000004,"expanded_mm":0.026511020564091315,"over_target_mm":0.6000000000000005,"target_mm":2.3},"causes":[],"service":"saddle-lower"},{"key":"tuners-dry","severity":"fine","words":"The tuners'' gears get their yearly drop of oil.","strings":[],"numbers":{},"causes":[]},{"key":"clean","severity":"fine","words":"It leaves clean.","strings":[],"numbers":{},"causes":[],"service":"clean-polish"}],"steps":[{"key":"crack","state":"offer","words":"Quote the crack''s repair: bring the moisture back first, then glue and cleat."},{"key":"saddle-high","state":"offer","words":"Lower the saddle as far as it is still high, once what comes before it is settled and the heights are read again."},{"key":"tuners-dry","state":"offer","words":"A drop of oil at each tuner''s gear; wipe off what runs."},{"key":"clean","state":"offer","words":"Clean with water and a cotton cloth only; dry at once."}],"stopped":true,"measure_again":[],"cautions":["slacken-before-glue"]}', 1795847556092387, x'01a220db0a7e739f89561dcca493edfd'),
(x'01a220db0c8175b0bf47bd82fcfdff91', x'01a220db0be072f6bedbb61f9d749d14', x'01a220db0c8070e7b9966b3900e5ddd6', '3', '{"instrument":{"family":"steel-string","scale_mm":645.0,"frets":20,"body_fret":14,"truss_rod":"two-way","saddle_setback_mm":0.0,"board_radius_mm":{"nut":406.0,"end":406.0,"end_at_mm":441.83773070445164},"strings":[{"pitch":"E4","material":"steel","diameter_mm":0.254,"wound":false,"position_mm":0.0},{"pitch":"B3","material":"steel","diameter_mm":0.356,"wound":false,"position_mm":10.6},{"pitch":"G3","material":"steel","diameter_mm":0.584,"core_diameter_mm":0.27,"linear_density_g_m":1.56,"wound":true,"position_mm":21.2},{"pitch":"D3","material":"steel","diameter_mm":0.762,"core_diameter_mm":0.31,"linear_density_g_m":2.68,"wound":true,"position_mm":31.8},{"pitch":"A2","material":"steel","diameter_mm":0.991,"core_diameter_mm":0.35,"linear_density_g_m":4.57,"wound":true,"position_mm":42.4},{"pitch":"E2","material":"steel","diameter_mm":1.194,"core_diameter_mm":0.38,"linear_density_g_m":7.22,"wound":true,"position_mm":53.0}]},"style":"medium","air":{"temperature_c":20.0,"rh_percent":48.0},"tool":{"resolution_mm":0.01,"limit_mm":0.02},"readings":{"relief_mm":[0.15,0.16,0.15],"saddle_showing_mm":{"treble":[2.4],"bass":[3.2]},"strings":[{"action_12_mm":[1.91,1.92,1.9],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[1.99,2.0,1.98],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.07,2.08,2.06],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.15,2.16,2.14],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.23,2.24,2.22],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]},{"action_12_mm":[2.31,2.32,2.3],"first_fret_mm":[],"gap_at_1_stopped_at_3_mm":[0.07,0.08,0.07],"cents_at_12":[]}]},"observations":[{"key":"crack","at":"old, by the pickguard"}]}', '{"findings":[{"key":"crack","severity":"stop","words":"There is a crack. Strings pull on it whatever the setup says. This is beyond a setup.","strings":[],"numbers":{},"causes":[],"service":"crack-repair"},{"key":"tuners-dry","severity":"fine","words":"The tuners'' gears get their yearly drop of oil.","strings":[],"numbers":{},"causes":[]},{"key":"clean","severity":"fine","words":"It leaves clean.","strings":[],"numbers":{},"causes":[],"service":"clean-polish"}],"steps":[{"key":"crack","state":"offer","words":"Quote the crack''s repair: bring the moisture back first, then glue and cleat."},{"key":"tuners-dry","state":"offer","words":"A drop of oil at each tuner''s gear; wipe off what runs."},{"key":"clean","state":"offer","words":"Clean with water and a cotton cloth only; dry at once."}],"stopped":true,"measure_again":[],"cautions":["slacken-before-glue"]}', 1795847556225881, x'01a220db0a7e739f89561dcca493edfd');
INSERT OR REPLACE INTO service (id, key, name, minutes, price, tax_class, active, version, asks_for, asks_unit, form_key) VALUES
(x'01a220db09cb7685a1e5424173d80918', 'setup', 'Setup: measure, adjust, prove', 75, 6500, 'standard', 1, 1, '', '', NULL),
(x'01a220db09cb7685a1e54242480dbc03', 'truss-rod', 'Adjust relief at the truss rod', 20, 1800, 'standard', 1, 1, 'turn of the rod, tighter positive', 'turns', NULL),
(x'01a220db09cb7685a1e54243e66878d6', 'nut-slots', 'Work on nut slots', 35, 3000, 'standard', 1, 1, '', '', NULL),
(x'01a220db09cb7685a1e54244f39d7413', 'new-nut', 'Make and fit a new nut', 90, 8500, 'standard', 1, 1, '', '', NULL),
(x'01a220db09cb7685a1e542451b8e4b87', 'saddle-lower', 'Lower and fit the saddle', 30, 2600, 'standard', 1, 1, '', '', NULL),
(x'01a220db09cb7685a1e54246dd5963e4', 'new-saddle', 'Make and fit a new saddle', 75, 7000, 'standard', 1, 1, '', '', NULL),
(x'01a220db09cb7685a1e542471639a15d', 'intonation', 'Set intonation string by string', 40, 3600, 'standard', 1, 1, '', '', NULL),
(x'01a220db09cb7685a1e542483bc3e5a4', 'fret-level', 'Seat and level single frets', 60, 5500, 'standard', 1, 1, '', '', NULL),
(x'01a220db09cb7685a1e54249b67113a7', 'fret-dress', 'Dress all frets: level, crown, polish', 180, 17500, 'standard', 1, 1, '', '', NULL),
(x'01a220db09cb7685a1e5424a32ecedf2', 'refret', 'New frets: draw, level the board, fit and dress', 480, 42000, 'standard', 1, 1, '', '', NULL),
(x'01a220db09cb7685a1e5424ba7877232', 'restring', 'New strings, fitted and stretched', 25, 2400, 'standard', 1, 1, '', '', NULL),
(x'01a220db09cb7685a1e5424ce004c1a2', 'tuner-service', 'Clean and oil the tuners', 20, 1500, 'standard', 1, 1, '', '', NULL),
(x'01a220db09cc74e2aee33ef34d48c56b', 'clean-polish', 'Clean and polish, with water and cotton', 20, 1500, 'standard', 1, 1, '', '', NULL),
(x'01a220db09cc74e2aee33ef4aef8c1b8', 'humidify', 'Bring the moisture back, slowly, with readings', 30, 2500, 'standard', 1, 1, 'moisture in the case at the end', '%', NULL),
(x'01a220db09cc74e2aee33ef5cb2e22d4', 'crack-repair', 'Glue and cleat a crack', 150, 14500, 'standard', 1, 1, '', '', NULL),
(x'01a220db09cc74e2aee33ef6ad26bc18', 'bridge-reglue', 'Take off and glue the bridge again', 180, 18000, 'standard', 1, 1, '', '', NULL),
(x'01a220db09cc74e2aee33ef732d2af2b', 'brace-reglue', 'Glue a loose brace', 75, 7500, 'standard', 1, 1, '', '', NULL),
(x'01a220db09cc74e2aee33ef82402ed8d', 'neck-reset', 'Neck reset', 600, 52000, 'standard', 1, 1, '', '', NULL);
INSERT OR REPLACE INTO work_line (id, job_id, service_id, position, finding, words, minutes, price, tax_class, state, overruled, done_by, done_at, result, form_key, version, result_thousandths) VALUES
(x'01a220db0c037125a62269c745268d84', x'01a220db0be072f6bedbb61f9d749d14', NULL, 1, NULL, 'Lower and fit the saddle', 0, 4500, 'standard', 'done', 0, x'01a220db0a7e739f89561dcca493edfd', 1795847556180006, 'treble 2.4, bass 3.2', 'w', 3, NULL),
(x'01a220db0c07715c9e303746210fcebd', x'01a220db0be072f6bedbb61f9d749d14', NULL, 2, NULL, 'Polish the frets', 0, 3000, 'standard', 'agreed', 0, NULL, NULL, '', 'w2', 2, NULL);
INSERT OR REPLACE INTO quote (id, job_id, revision, made_at, staff_id, valid_until, currency, tax_name, tax_rounding, tax_level, net, tax, total, note, answer, answered_at, answered_how, answered_by, answer_staff_id, form_key, version) VALUES
(x'01a220db0c14772a8743039f6f409440', x'01a220db0be072f6bedbb61f9d749d14', 1, 1795847556116010, x'01a220db0a2774abb39b5f1560830134', '2026-12-28', 'GBP', 'VAT', 'half-up', 'on-total', 7500, 1500, 9000, 'As talked about.', 'agreed', 1795847556126130, 'telephone', 'Maren', x'01a220db0a2774abb39b5f1560830134', 'q', 2);
INSERT OR REPLACE INTO quote_line (quote_id, position, work_line_id, words, minutes, price, tax_class, tax_rate, answer) VALUES
(x'01a220db0c14772a8743039f6f409440', 1, x'01a220db0c037125a62269c745268d84', 'Lower and fit the saddle', 0, 4500, 'standard', 20000, 'agreed'),
(x'01a220db0c14772a8743039f6f409440', 2, x'01a220db0c07715c9e303746210fcebd', 'Polish the frets', 0, 3000, 'standard', 20000, 'agreed');
INSERT OR REPLACE INTO payment (id, job_id, kind, method, amount, taken_at, staff_id, note, form_key) VALUES
(x'01a220db0c577456a6a77b4d4520faab', x'01a220db0be072f6bedbb61f9d749d14', 'deposit', 'cash', 2000, 1795847556183684, x'01a220db0a2774abb39b5f1560830134', '', 'm'),
(x'01a220db0c9b70598da6c3fac09ed049', x'01a220db0be072f6bedbb61f9d749d14', 'balance', 'card', 2500, 1795847556251244, x'01a220db0a2774abb39b5f1560830134', '', 'm2');
INSERT OR REPLACE INTO api_token (id, name, token_hash, form_key, made_by, made_at, last_used_on, revoked_by, revoked_at) VALUES
(x'01a220db0ce77558acfb3a5454134a3d', 'the accountant', x'347f8ca42df70c32a7e660c6b5b714836decb035fc76eab6647e1751b75585d3', 'tok', x'01a220db0a2774abb39b5f1560830134', 1795847556327857, NULL, NULL, NULL);
INSERT OR REPLACE INTO string_set (id, name, family, archived, created_at, form_key, version) VALUES
(x'01a220db09cc74e2aee33ef963c62530', 'Extra light, bronze, 0.25 to 1.19', 'steel-string', 0, 1795847555524351, 'usual-steel-string-extra-light', 1);
INSERT OR REPLACE INTO string_set_string (string_set_id, number, pitch, material, gauge_um, wound, core_um, wrap_um, linear_density_ug_per_m) VALUES
(x'01a220db09cc74e2aee33ef963c62530', 1, 'E4', 'steel', 254, 0, NULL, NULL, NULL),
(x'01a220db09cc74e2aee33ef963c62530', 2, 'B3', 'steel', 356, 0, NULL, NULL, NULL),
(x'01a220db09cc74e2aee33ef963c62530', 3, 'G3', 'steel', 584, 1, 270, NULL, 1560000),
(x'01a220db09cc74e2aee33ef963c62530', 4, 'D3', 'steel', 762, 1, 310, NULL, 2680000),
(x'01a220db09cc74e2aee33ef963c62530', 5, 'A2', 'steel', 991, 1, 350, NULL, 4570000),
(x'01a220db09cc74e2aee33ef963c62530', 6, 'E2', 'steel', 1194, 1, 380, NULL, 7220000);
INSERT OR REPLACE INTO reading_draft (id, job_id, after_set_id, done_steps, opened_at, staff_id) VALUES
(x'01a220db0be7762b96b9c9401d22b534', x'01a220db0be072f6bedbb61f9d749d14', NULL, '[]', 1795847556071485, x'01a220db0a7e739f89561dcca493edfd'),
(x'01a220db0cab728a949da383b0193aba', x'01a220db0ca670ed986a5e1a729e1061', NULL, '[]', 1795847556267778, x'01a220db0a7e739f89561dcca493edfd');
INSERT OR REPLACE INTO reading_entry (id, draft_id, cell, typed, is_sure, entry_key, replaces, settles, is_disputed, staff_id, entered_at) VALUES
(1, x'01a220db0be7762b96b9c9401d22b534', 'height-12_1', '2.50', 0, 'cell', '', 0, 0, x'01a220db0a7e739f89561dcca493edfd', 1795847556071485),
(2, x'01a220db0cab728a949da383b0193aba', 'relief_0', '0.20', 0, 'd1', '', 0, 0, x'01a220db0a7e739f89561dcca493edfd', 1795847556267778);
INSERT OR REPLACE INTO bench_habit (staff_id, travel, unit) VALUES
(x'01a220db0a7e739f89561dcca493edfd', 'by-string', 'inch');
INSERT OR REPLACE INTO check_item (id, position, words, hint, family, by_readings, archived, form_key, version) VALUES
(x'01a220db09c47176bd76e541800378f0', 1, 'Final readings stand in their proved range', 'Filled from the final readings. Where one is off, or nothing was measured, say why that is right.', NULL, 1, 0, 'first-1', 1),
(x'01a220db09c577ae865a53d7a3536ed0', 2, 'Every fret sounded on every string', 'Picked as hard as the customer plays; no buzz, no choke, no dead note.', NULL, 0, 0, 'first-2', 1),
(x'01a220db09c577ae865a53d8ab76f3be', 3, 'A drop of oil at each tuner''s gear', 'One drop, the excess wiped off. Sealed gears: not applicable.', NULL, 0, 0, 'first-3', 1),
(x'01a220db09c577ae865a53d984121c1a', 4, 'Nut and saddle the right way round', 'Bass slots at the bass side; the saddle''s lower or compensated side where it belongs.', NULL, 0, 0, 'first-4', 1),
(x'01a220db09c6731a82079ab4d915e7b4', 5, 'Nut and saddle ramped to the front', 'Each string leaves from the front edge; a slot that is highest at the back sounds out of tune.', NULL, 0, 0, 'first-5', 1),
(x'01a220db09ca767eaa8b777044b2c296', 6, 'Clean, with water and cotton only', 'A damp cotton cloth, then a dry one. No solvent, no silicone, no water on bare wood.', NULL, 0, 0, 'first-6', 1),
(x'01a220db09cb7685a1e54240f67ab88e', 7, 'Everything it came with is back in the case', 'Compare with the ticket: case, strap, capo, spare parts, what was taken off.', NULL, 0, 0, 'first-7', 1);
INSERT OR REPLACE INTO check_answer (id, job_id, check_item_id, arrived_at, answer, reason, staff_id, answered_at) VALUES
(1, x'01a220db0be072f6bedbb61f9d749d14', x'01a220db09c577ae865a53d7a3536ed0', 1795847556224643, 'yes', '', x'01a220db0a7e739f89561dcca493edfd', 1795847556239742),
(2, x'01a220db0be072f6bedbb61f9d749d14', x'01a220db09c577ae865a53d8ab76f3be', 1795847556224643, 'yes', '', x'01a220db0a7e739f89561dcca493edfd', 1795847556239742),
(3, x'01a220db0be072f6bedbb61f9d749d14', x'01a220db09c577ae865a53d984121c1a', 1795847556224643, 'yes', '', x'01a220db0a7e739f89561dcca493edfd', 1795847556239742),
(4, x'01a220db0be072f6bedbb61f9d749d14', x'01a220db09c6731a82079ab4d915e7b4', 1795847556224643, 'yes', '', x'01a220db0a7e739f89561dcca493edfd', 1795847556239742),
(5, x'01a220db0be072f6bedbb61f9d749d14', x'01a220db09ca767eaa8b777044b2c296', 1795847556224643, 'yes', '', x'01a220db0a7e739f89561dcca493edfd', 1795847556239742),
(6, x'01a220db0be072f6bedbb61f9d749d14', x'01a220db09cb7685a1e54240f67ab88e', 1795847556224643, 'yes', '', x'01a220db0a7e739f89561dcca493edfd', 1795847556239742);
INSERT OR REPLACE INTO labour_entry (id, job_id, work_line_id, staff_id, started_at, ended_at) VALUES
(x'01a220db0c2f7568916bebac3036e9f0', x'01a220db0be072f6bedbb61f9d749d14', x'01a220db0c037125a62269c745268d84', x'01a220db0a7e739f89561dcca493edfd', 1795847556143584, 1795847556147547);
INSERT OR REPLACE INTO labour_correction (id, labour_entry_id, minutes, reason, staff_id, corrected_at, form_key) VALUES
(1, x'01a220db0c2f7568916bebac3036e9f0', 20, 'The clock was forgotten.', x'01a220db0a7e739f89561dcca493edfd', 1795847556153178, 'l');
INSERT OR REPLACE INTO part (id, name, name_folded, unit, on_hand, reorder_at, cost, price, archived, form_key, version) VALUES
(x'01a220db0c4370e98daaad2b1bdfa4f9', 'Bone saddle blank', 'bone saddle blank', 'piece', -1000, NULL, NULL, 900, 0, 'p', 1);
INSERT OR REPLACE INTO part_movement (id, part_id, kind, quantity, on_hand_after, job_id, work_line_id, puts_back, note, staff_id, moved_at, form_key) VALUES
(x'01a220db0c4974bc9fb5fbb9d8b8c4fd', x'01a220db0c4370e98daaad2b1bdfa4f9', 'taken', -1000, -1000, x'01a220db0be072f6bedbb61f9d749d14', NULL, NULL, '', x'01a220db0a7e739f89561dcca493edfd', 1795847556169752, 't1');
INSERT OR REPLACE INTO job_note (id, job_id, words, staff_id, written_at, form_key) VALUES
(x'01a220db0bfd76ca9abbea8e9c43d3c5', x'01a220db0be072f6bedbb61f9d749d14', 'Glue sets until four.', x'01a220db0a7e739f89561dcca493edfd', 1795847556093528, 'n');
INSERT OR REPLACE INTO photo (id, job_id, condition_mark_id, sha256, small_sha256, width, height, bytes, caption, for_customer, set_aside, staff_id, added_at, form_key, version, forgotten) VALUES
(x'01a220db0c66756abb1bfe2767f040d5', x'01a220db0be072f6bedbb61f9d749d14', NULL, x'f48b8fc1d22dd84715b255d8191ae847bef1c0062f3dd864850179ae8155102d', x'f48b8fc1d22dd84715b255d8191ae847bef1c0062f3dd864850179ae8155102d', 8, 8, 631, 'The dent', 1, 0, x'01a220db0a2774abb39b5f1560830134', 1795847556198838, 'f-0', 1, 0);
INSERT OR REPLACE INTO search_entry (id, kind, record_id, words) VALUES
(1, 'customer', x'01a220db0b5f74b0b63c06c771ca3359', 'maren oakhollow maren@oakhollow.example 01632960101 441632960101 r101069236 r101069236'),
(2, 'instrument', x'01a220db0be072f6bedbb61e00a3712c', 'Thistlewade OM-2 TW-4471 TW4471 steel-string  '),
(3, 'job', x'01a220db0be072f6bedbb61f9d749d14', '26-0001 260001 1 It buzzes when I dig in,
mostly low down.'),
(4, 'customer', x'01a220db0ca571c98224bf28b1d70667', 'ilka reedmoor ilka@reedmoor.example 01632960202 441632960202 r202069236 r202069236 ilka reedmoore  01632960202 441632960202 r202069236 r202069236'),
(5, 'instrument', x'01a220db0ca571c98224bf2966f53bda', 'Brookside Rill B-7 B7 steel-string  '),
(6, 'job', x'01a220db0ca670ed986a5e1a729e1061', '26-0002 260002 2 New strings please.'),
(8, 'instrument', x'01a220db0cb572538f22f5658f2b75a5', 'Weirside Eddy W-1 W1 steel-string  '),
(9, 'job', x'01a220db0cb572538f22f566d95b99e7', '26-0003 260003 3 It buzzes when I dig in,
mostly low down.'),
(10, 'customer', x'01a220db0cb773b986ea22ef2d545a28', 'anonymised   '),
(11, 'instrument', x'01a220db0cb773b986ea22f0b02adb99', 'Weirside Pool W-2 W2 steel-string  '),
(12, 'job', x'01a220db0cb873a7913b3d75ffa19afe', '26-0004 260004 4 anonymised');
INSERT OR REPLACE INTO change_of_hands (id, instrument_id, from_customer_id, to_customer_id, on_day, noted_at, staff_id) VALUES
(x'01a220db0ccd760586f9c0a15637bea4', x'01a220db0cb773b986ea22f0b02adb99', x'01a220db0cb773b986ea22ef2d545a28', x'01a220db0ca571c98224bf28b1d70667', '2026-11-28', 1795847556301116, x'01a220db0a2774abb39b5f1560830134');
INSERT OR REPLACE INTO signature (id, job_id, purpose, marks, strokes, drawn_at, staff_id, form_key) VALUES
(x'01a220db0c6b729cb1a0a5fd21209a02', x'01a220db0be072f6bedbb61f9d749d14', 'condition', 2, 'M1,1L2,2', 1795847556203729, x'01a220db0a2774abb39b5f1560830134', 's');
INSERT OR REPLACE INTO paper_settings (id, label, letter_days, letter_words, version, care_words) VALUES
(1, 'roll-62', '[14,30,60]', 'Your instrument is ready and waits for you. Please collect it, or call us so that we can keep it for you. What we may charge for storage, and what happens to instruments nobody collects, follows the local law and the notices it asks for.', 1, 'Once a year an instrument needs a little attention, so that nothing wears out early. Come by, or call us and we find a day.');
INSERT OR REPLACE INTO import (id, file_name, content, columns, outcome, state, made_at, staff_id, form_key, refused_saved_at, emptied_at) VALUES
(x'01a220db0cf074ce90eec40655e05a00', 'people.csv', '{"encoding":"UTF-8","headings":["Name","Phone"],"rows":[{"line":2,"cells":["Harm Millstone","01632 960505"]}]}', '["name","telephone"]', NULL, 'read', 1795847556336652, x'01a220db0a2774abb39b5f1560830134', 'file', NULL, NULL);
INSERT OR REPLACE INTO observation_left (id, job_id, observation_id, arrived_at, reason, staff_id, answered_at) VALUES
(1, x'01a220db0be072f6bedbb61f9d749d14', x'01a220db0bf67175881fbd2c68e5d055', 1795847556224643, 'Old and glued; she knows of it.', x'01a220db0a7e739f89561dcca493edfd', 1795847556240790);
