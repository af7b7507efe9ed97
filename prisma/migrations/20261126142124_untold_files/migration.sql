-- CreateIndex
CREATE INDEX "stored_file_author_id_created_at_idx" ON "stored_file"("author_id", "created_at");

-- Bytes of which nobody said yet what they show.
CREATE VIEW untold_file AS
  SELECT f.id, f.kind, f.media_type, f.bytes, f.author, f.created_at FROM stored_file f
   WHERE NOT EXISTS (SELECT FROM attachment a WHERE a.id = f.id);
