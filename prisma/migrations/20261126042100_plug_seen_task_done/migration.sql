-- AlterTable
ALTER TABLE "inspection" ADD COLUMN     "plug_seen_by" TEXT;

-- AlterTable
ALTER TABLE "work_order_task" ADD COLUMN     "done_at" TIMESTAMPTZ(3);

ALTER TABLE inspection ADD CONSTRAINT inspection_plug_seen_by_word CHECK (plug_seen_by IN ('camera', 'outlet_look', 'outlet_depth', 'timed_fill', 'poured_flow', 'pit_drawdown', 'passes_to_clear', 'by_word'));
ALTER TABLE inspection ADD CONSTRAINT inspection_plug_seen CHECK (plugged OR plug_seen_by IS NULL);

-- Work done before is dated by what was said of it on site, else by the end of its visit.
UPDATE work_order_task k
   SET done_at = coalesce(
         (SELECT max(r.said_at) FROM task_result r WHERE r.task_id = k.id AND r.result = 'done'),
         (SELECT o.done_at FROM work_order o WHERE o.id = k.work_order_id),
         (SELECT max(a.ended_at) FROM attempt a WHERE a.work_order_id = k.work_order_id),
         k.updated_at)
 WHERE k.result = 'done';

ALTER TABLE event DROP CONSTRAINT event_kind_word;
ALTER TABLE event ADD CONSTRAINT event_kind_word CHECK (kind IN ('reminder_due', 'on_the_way', 'running_late', 'work_finished', 'work_found', 'order_tried_in_vain', 'order_follows_no_more', 'consent_unanswered', 'route_published', 'route_changed', 'line_plugged', 'line_past_limit', 'pit_fault', 'urgent_work', 'ladder_ends', 'trench_check_over', 'locate_ticket_ends', 'incident', 'night_failed', 'model_off', 'mail_not_sent', 'webhook_disabled', 'webhook_test'));
ALTER TABLE webhook_endpoint DROP CONSTRAINT webhook_endpoint_event_types_word;
ALTER TABLE webhook_endpoint ADD CONSTRAINT webhook_endpoint_event_types_word CHECK (event_types <@ ARRAY['reminder_due', 'on_the_way', 'running_late', 'work_finished', 'work_found', 'order_tried_in_vain', 'order_follows_no_more', 'consent_unanswered', 'route_published', 'route_changed', 'line_plugged', 'line_past_limit', 'pit_fault', 'urgent_work', 'ladder_ends', 'trench_check_over', 'locate_ticket_ends', 'incident', 'night_failed', 'model_off', 'mail_not_sent', 'webhook_disabled', 'webhook_test']);
