-- A customer says yes to some lines and no to others, and a yes can be taken back while nothing was begun.

-- what was said of a frozen line, as it stands; its price and words stay as they were printed
ALTER TABLE quote_line ADD COLUMN answer TEXT CHECK (answer IN ('agreed', 'declined'));
UPDATE quote_line SET answer = (SELECT quote.answer FROM quote WHERE quote.id = quote_line.quote_id)
WHERE quote_id IN (SELECT id FROM quote WHERE quote.answer IN ('agreed', 'declined'));
