-- CreateIndex
CREATE INDEX "clean_received_at_id_idx" ON "clean"("received_at", "id");

-- CreateIndex
CREATE INDEX "inspection_received_at_id_idx" ON "inspection"("received_at", "id");
