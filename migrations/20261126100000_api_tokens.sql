-- Keys of programs that ask the calculator. Only the hash of the token is kept: a stolen copy of the
-- file opens no door. A revoked token stays, so that the list says who ended it and when.
CREATE TABLE api_token (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 80),
    token_hash BLOB NOT NULL UNIQUE CHECK (length(token_hash) = 32),
    form_key TEXT NOT NULL UNIQUE,
    made_by BLOB NOT NULL REFERENCES staff (id),
    made_at INTEGER NOT NULL,
    last_used_on TEXT CHECK (last_used_on IS NULL OR last_used_on GLOB '????-??-??'),
    revoked_by BLOB REFERENCES staff (id),
    revoked_at INTEGER,
    CHECK ((revoked_by IS NULL) = (revoked_at IS NULL))
) STRICT;
