-- CreateIndex
CREATE INDEX "route_crew_id_day_idx" ON "route"("crew_id", "day");
