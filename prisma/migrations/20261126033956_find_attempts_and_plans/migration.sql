-- CreateIndex
CREATE INDEX "attempt_stop_id_idx" ON "attempt"("stop_id");

-- CreateIndex
CREATE INDEX "plan_state_accepted_at_idx" ON "plan"("state", "accepted_at");
