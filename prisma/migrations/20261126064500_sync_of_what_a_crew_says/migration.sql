ALTER TABLE sync_item DROP CONSTRAINT sync_item_kind_word;
ALTER TABLE sync_item ADD CONSTRAINT sync_item_kind_word CHECK (kind IN ('start', 'finish', 'inspection', 'clean', 'task_result', 'found_work', 'found_line', 'found_access_point', 'price_acceptance', 'attachment', 'note', 'on_the_way', 'running_late', 'danger', 'answer', 'discharge_plan', 'ticket_news', 'trench_check', 'incident'));
