-- A doubt that later readings removed is settled, not left for a person to judge.
ALTER TABLE reading_review DROP CONSTRAINT reading_review_verdict_word;
ALTER TABLE reading_review ADD CONSTRAINT reading_review_verdict_word CHECK (verdict IN ('open', 'confirmed', 'dismissed', 'settled'));
