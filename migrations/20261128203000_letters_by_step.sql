-- Each letter about an instrument nobody collects has words of its own; empty: those of the first.
ALTER TABLE paper_settings ADD COLUMN second_words TEXT NOT NULL DEFAULT
'We wrote to you before: your instrument is ready and still waits for you. Please collect it, or call us within the next two weeks so that we know it is not forgotten.';
ALTER TABLE paper_settings ADD COLUMN last_words TEXT NOT NULL DEFAULT
'We have written to you several times: your instrument is ready and nobody came for it. Please call us now. What we may charge for keeping it, and what happens to instruments nobody collects, follows the local law and the notices it asks for.';
