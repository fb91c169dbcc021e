-- What the plan asks of an instrument's bridge, neck, nut and strings. Empty is not known: the plan then takes what is
-- usual for the family, or asks.
ALTER TABLE instrument ADD COLUMN bridge_kind TEXT
    CHECK (bridge_kind IN ('fixed-saddle', 'screw-saddles', 'two-post', 'loose-bridge', 'sprung'));
-- height that one full turn of a screw, wheel or post makes
ALTER TABLE instrument ADD COLUMN screw_pitch_um INTEGER CHECK (screw_pitch_um BETWEEN 100 AND 5000);
-- where two posts stand across, from string 1; minus is outside of it
ALTER TABLE instrument ADD COLUMN post_treble_um INTEGER CHECK (post_treble_um BETWEEN -500000 AND 500000);
ALTER TABLE instrument ADD COLUMN post_bass_um INTEGER
    CHECK (post_bass_um BETWEEN -500000 AND 500000 AND (post_bass_um IS NULL) = (post_treble_um IS NULL)
        AND post_bass_um > post_treble_um);
ALTER TABLE instrument ADD COLUMN neck_joint TEXT CHECK (neck_joint IN ('glued', 'bolted', 'through', 'rods'));
ALTER TABLE instrument ADD COLUMN nut TEXT CHECK (nut IN ('slotted', 'zero-fret', 'clamping'));
-- scale of the last string of a fanned board; scale_um is then that of string 1
ALTER TABLE instrument ADD COLUMN scale_bass_um INTEGER CHECK (scale_bass_um BETWEEN 200000 AND 1500000);

-- the fret at which a short string begins
ALTER TABLE instrument_string ADD COLUMN starts_at_fret INTEGER CHECK (starts_at_fret BETWEEN 1 AND 9);
-- the course it belongs to, from 1; of every string of an instrument, or of none
ALTER TABLE instrument_string ADD COLUMN course INTEGER CHECK (course BETWEEN 1 AND 24);

-- A five-string banjo's fifth begins at the fifth fret: what comparing string sets has always taken for granted.
UPDATE instrument_string SET starts_at_fret = 5
WHERE number = 5 AND instrument_id IN (
    SELECT instrument.id FROM instrument JOIN instrument_string AS each ON each.instrument_id = instrument.id
    WHERE family = 'banjo' GROUP BY instrument.id HAVING count(*) = 5);
-- Strings in pairs, where the instrument says that it has half as many courses as strings.
UPDATE instrument_string SET course = (number + 1) / 2
WHERE instrument_id IN (
    SELECT instrument.id FROM instrument JOIN instrument_string AS each ON each.instrument_id = instrument.id
    GROUP BY instrument.id HAVING count(*) = 2 * courses AND max(each.number) = count(*));
