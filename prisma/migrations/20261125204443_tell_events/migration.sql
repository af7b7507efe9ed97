-- AlterTable
ALTER TABLE "event" ADD COLUMN     "crew_id" UUID,
ADD COLUMN     "line_id" UUID,
ADD COLUMN     "posted_at" TIMESTAMPTZ(3),
ADD COLUMN     "route_id" UUID,
ADD COLUMN     "site_id" UUID,
ADD COLUMN     "text" TEXT NOT NULL DEFAULT '',
ADD COLUMN     "work_order_id" UUID;

-- CreateIndex
CREATE INDEX "event_kind_created_at_idx" ON "event"("kind", "created_at");

-- CreateIndex
CREATE INDEX "event_site_id_idx" ON "event"("site_id");

-- CreateIndex
CREATE INDEX "event_work_order_id_idx" ON "event"("work_order_id");

-- What is there already was told to nobody but who looks.
UPDATE event SET text = replace(kind, '_', ' '), posted_at = created_at;
CREATE INDEX event_unposted ON event (created_at) WHERE posted_at IS NULL;
ALTER TABLE event ADD CONSTRAINT event_kind_word CHECK (kind IN ('reminder_due', 'on_the_way', 'running_late', 'work_finished', 'work_found', 'order_tried_in_vain', 'order_follows_no_more', 'consent_unanswered', 'route_published', 'route_changed', 'line_plugged', 'line_past_limit', 'locate_ticket_ends', 'incident', 'night_failed', 'model_off', 'mail_not_sent', 'webhook_disabled', 'webhook_test'));
