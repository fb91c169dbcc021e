-- A second press of the same form adds nobody and nothing twice; null: added without a form.
ALTER TABLE staff ADD COLUMN form_key TEXT;
CREATE UNIQUE INDEX staff_form_key ON staff (form_key) WHERE form_key IS NOT NULL;
ALTER TABLE service ADD COLUMN form_key TEXT;
CREATE UNIQUE INDEX service_form_key ON service (form_key) WHERE form_key IS NOT NULL;

-- the owner's page of everybody's time asks for these
CREATE INDEX labour_entry_started ON labour_entry (started_at);
