-- DropIndex
DROP INDEX "clean_pit_id_cleaned_at_idx";

-- DropIndex
DROP INDEX "clean_received_at_idx";

-- DropIndex
DROP INDEX "clean_work_order_id_idx";

-- DropIndex
DROP INDEX "inspection_pit_id_observed_at_idx";

-- DropIndex
DROP INDEX "inspection_received_at_idx";

-- DropIndex
DROP INDEX "inspection_work_order_id_idx";

-- CreateIndex
CREATE INDEX "attempt_crew_id_started_at_idx" ON "attempt"("crew_id", "started_at");

-- CreateIndex
CREATE INDEX "clean_cleaned_at_id_idx" ON "clean"("cleaned_at", "id");

-- CreateIndex
CREATE INDEX "client_created_at_id_idx" ON "client"("created_at", "id");

-- CreateIndex
CREATE INDEX "client_name_id_idx" ON "client"("name", "id");

-- CreateIndex
CREATE INDEX "contact_created_at_id_idx" ON "contact"("created_at", "id");

-- CreateIndex
CREATE INDEX "inspection_observed_at_id_idx" ON "inspection"("observed_at", "id");

-- CreateIndex
CREATE INDEX "line_created_at_id_idx" ON "line"("created_at", "id");

-- CreateIndex
CREATE INDEX "site_created_at_id_idx" ON "site"("created_at", "id");

-- CreateIndex
CREATE INDEX "site_address_id_idx" ON "site"("address", "id");

-- CreateIndex
CREATE INDEX "site_town_idx" ON "site"("town");

-- CreateIndex
CREATE INDEX "site_client_created_at_id_idx" ON "site_client"("created_at", "id");

-- CreateIndex
CREATE INDEX "system_created_at_id_idx" ON "system"("created_at", "id");

-- CreateIndex
CREATE INDEX "trend_plug_chance_year_line_id_idx" ON "trend"("plug_chance_year", "line_id");

-- CreateIndex
CREATE INDEX "trend_occlusion_line_id_idx" ON "trend"("occlusion", "line_id");

-- CreateIndex
CREATE INDEX "work_order_wanted_by_id_idx" ON "work_order"("wanted_by", "id");

-- Findings of a pit or in an order are few among those of lines: only they are in the index.
CREATE INDEX inspection_of_pit ON inspection (pit_id, observed_at) WHERE pit_id IS NOT NULL;
CREATE INDEX inspection_of_order ON inspection (work_order_id) WHERE work_order_id IS NOT NULL;
CREATE INDEX clean_of_pit ON clean (pit_id, cleaned_at) WHERE pit_id IS NOT NULL;
CREATE INDEX clean_of_order ON clean (work_order_id) WHERE work_order_id IS NOT NULL;

-- What is to be planned, in the order in which it is read.
CREATE INDEX work_order_open ON work_order (number) WHERE state IN ('wanted', 'placed', 'under_way');
