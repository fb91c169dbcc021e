-- The catalogue: prices by the hour, what the customer reads, which findings suggest a service, and the parts it uses; and
-- parts on a quote.
ALTER TABLE service ADD COLUMN hourly INTEGER NOT NULL DEFAULT 0 CHECK (hourly IN (0, 1));
-- a sentence or two beside the line of a quote, where no finding says why
ALTER TABLE service ADD COLUMN told TEXT NOT NULL DEFAULT '' CHECK (length(told) <= 500);
-- keys of findings, a comma between them: beside the service's own key
ALTER TABLE service ADD COLUMN suggested_by TEXT NOT NULL DEFAULT '' CHECK (length(suggested_by) <= 500);
ALTER TABLE service_price ADD COLUMN hourly INTEGER NOT NULL DEFAULT 0 CHECK (hourly IN (0, 1));

-- the parts that go with a service, proposed with it at their price
CREATE TABLE service_part (
    service_id BLOB NOT NULL REFERENCES service (id),
    part_id BLOB NOT NULL REFERENCES part (id),
    quantity INTEGER NOT NULL CHECK (quantity > 0),
    PRIMARY KEY (service_id, part_id)
) STRICT, WITHOUT ROWID;

-- a line that is a part and not work; what is taken from the shelf for it is a movement as ever
ALTER TABLE work_line ADD COLUMN part_id BLOB REFERENCES part (id);
