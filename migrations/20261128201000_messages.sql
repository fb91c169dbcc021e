-- Messages by the shop's own mail server: how it is reached, the owner's words, and what was written, sent, or refused.
CREATE TABLE mail_settings (
    id INTEGER PRIMARY KEY NOT NULL CHECK (id = 1),
    is_on INTEGER NOT NULL DEFAULT 0 CHECK (is_on IN (0, 1)),
    -- whoever likes e-mail is written to without anybody pressing anything
    by_itself INTEGER NOT NULL DEFAULT 0 CHECK (by_itself IN (0, 1)),
    host TEXT NOT NULL DEFAULT '',
    port INTEGER NOT NULL DEFAULT 465 CHECK (port BETWEEN 1 AND 65535),
    -- 'tls': from the first byte; 'starttls': before anything is said; 'none': readable on the way, because the owner says so
    security TEXT NOT NULL DEFAULT 'tls' CHECK (security IN ('tls', 'starttls', 'none')),
    user_name TEXT NOT NULL DEFAULT '',
    password TEXT NOT NULL DEFAULT '',
    from_address TEXT NOT NULL DEFAULT '',
    -- the certificate of an authority of one's own, as PEM
    authority TEXT NOT NULL DEFAULT '',
    -- why nothing is sent until somebody looks; empty while it goes
    stopped_why TEXT NOT NULL DEFAULT '',
    version INTEGER NOT NULL DEFAULT 1
) STRICT;
INSERT INTO mail_settings (id) VALUES (1);

CREATE TABLE message_words (
    kind TEXT PRIMARY KEY NOT NULL CHECK (kind IN ('quote', 'ready', 'delayed', 'answer', 'receipt')),
    subject TEXT NOT NULL CHECK (length(subject) BETWEEN 1 AND 200),
    words TEXT NOT NULL CHECK (length(words) >= 1),
    version INTEGER NOT NULL DEFAULT 1
) STRICT;
INSERT INTO message_words (kind, subject, words) VALUES
('quote', 'Our quote for your {instrument}, {number}',
'Hello {name},

we have looked at your {instrument}. Our quote comes to {amount} and holds until {day}.

Read it and answer here: {link}

Or call us: {telephone}.'),
('ready', 'Your {instrument} is ready, {number}',
'Hello {name},

your {instrument} is ready and waits for you.

Still to pay: {amount}.

All about it: {link}'),
('delayed', 'A new day for your {instrument}, {number}',
'Hello {name},

we shall not have your {instrument} ready on the day we promised, and are sorry. The day that holds is {day}.

How it stands: {link}

If that does not suit you, call us: {telephone}.'),
('answer', 'We have your answer, {number}',
'Hello {name},

thank you for your answer about your {instrument}:

{answer}

All about it: {link}'),
('receipt', 'Your receipt, {number}',
'Hello {name},

this is what was paid for your {instrument}:

{answer}');

CREATE TABLE message (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 16),
    kind TEXT NOT NULL CHECK (kind IN ('quote', 'ready', 'delayed', 'answer', 'receipt', 'test')),
    job_id BLOB REFERENCES job (id),
    -- what of the telling list it says, where it does
    matter TEXT CHECK (matter IN ('promise', 'ready', 'quote')),
    -- what it says, once: never two messages about the same
    about TEXT NOT NULL UNIQUE,
    to_address TEXT NOT NULL,
    subject TEXT NOT NULL,
    -- as it is sent, the same bytes at every attempt; empty once it is long sent, or the person forgotten
    raw BLOB NOT NULL,
    made_at INTEGER NOT NULL,
    -- null: the house wrote by itself
    staff_id BLOB REFERENCES staff (id),
    state TEXT NOT NULL CHECK (state IN ('waiting', 'sending', 'sent', 'refused', 'given-up')),
    attempts INTEGER NOT NULL DEFAULT 0,
    -- the server fell silent after all of it had gone: it may have arrived
    is_unsure INTEGER NOT NULL DEFAULT 0 CHECK (is_unsure IN (0, 1)),
    next_try_at INTEGER NOT NULL,
    why TEXT NOT NULL DEFAULT '',
    sent_at INTEGER,
    CHECK ((state = 'sent') = (sent_at IS NOT NULL))
) STRICT;
CREATE INDEX message_to_send ON message (next_try_at) WHERE state = 'waiting';
CREATE INDEX message_sending ON message (id) WHERE state = 'sending';
CREATE INDEX message_failed ON message (made_at) WHERE state IN ('refused', 'given-up');
CREATE INDEX message_made ON message (made_at);
CREATE INDEX message_job ON message (job_id, made_at) WHERE job_id IS NOT NULL;
CREATE TRIGGER message_is_never_deleted BEFORE DELETE ON message
BEGIN
    SELECT RAISE(ABORT, 'messages are kept');
END;
