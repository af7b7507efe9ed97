-- AlterTable
ALTER TABLE "setting" ADD COLUMN     "changed_by" TEXT NOT NULL DEFAULT 'unknown';

-- CreateIndex
CREATE INDEX "change_log_xact_seq_idx" ON "change_log"("xact", "seq");

-- Doubted readings with what a person needs to judge them.
CREATE VIEW review_list AS
  SELECT r.inspection_id AS id, r.line_id, l.name AS line_name, l.kind AS line_kind, s.id AS site_id, s.address, i.observed_at, i.author, i.phase, i.method,
         i.occlusion, r.weight, r.suspicion, r.verdict, r.decided_by, r.decided_at
    FROM reading_review r JOIN inspection i ON i.id = r.inspection_id JOIN line l ON l.id = r.line_id JOIN site s ON s.id = l.site_id
   WHERE i.replaced_at IS NULL AND i.withdrawn_at IS NULL;
