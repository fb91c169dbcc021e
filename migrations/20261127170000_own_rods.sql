-- The acts of measuring before which a rod was turned and nothing else was done: what rods do in this shop.
CREATE INDEX reading_draft_rod ON reading_draft (opened_at) WHERE done_steps IN ('["relief-too-much"]', '["relief-too-little"]');
