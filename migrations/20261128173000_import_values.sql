-- What the words of a file mean here ("acoustic" is a steel-string guitar), as the owner saw and mended it.
ALTER TABLE import ADD COLUMN meanings TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(meanings));
