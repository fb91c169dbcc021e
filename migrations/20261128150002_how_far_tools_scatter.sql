-- How far each tool scatters in this shop's hands: pooled over every place that was read more than once with it. The
-- sums grow with each set, so that no question goes through all readings.
CREATE TABLE tool_scatter (
    tool TEXT PRIMARY KEY NOT NULL,
    -- squared distances of repeats from the mean of their place, summed, square micrometres
    squares REAL NOT NULL CHECK (squares >= 0),
    -- repeats beyond the first of each place
    degrees_of_freedom INTEGER NOT NULL CHECK (degrees_of_freedom > 0)
) STRICT, WITHOUT ROWID;
INSERT INTO tool_scatter (tool, squares, degrees_of_freedom)
SELECT tool, sum(squares), sum(degrees_of_freedom)
FROM (SELECT reading_set.tool,
             max(0.0, sum(value * value) - 1.0 * sum(value) * sum(value) / count(*)) AS squares,
             count(*) - 1 AS degrees_of_freedom
      FROM reading JOIN reading_set ON reading_set.id = reading_set_id
      WHERE carried_from IS NULL
        AND kind IN ('height-12', 'height-1', 'gap-1-stopped-3', 'relief', 'saddle-treble', 'saddle-bass')
      GROUP BY reading_set_id, kind, string_number
      HAVING count(*) > 1 AND max(value) - min(value) <= 300)
GROUP BY tool;
