-- AlterTable
ALTER TABLE "locate_rule" ADD COLUMN     "start_within_unit" TEXT NOT NULL DEFAULT 'calendar_day';

-- AlterTable
ALTER TABLE "locate_ticket" ADD COLUMN     "digs" JSONB NOT NULL DEFAULT '[]';

-- AlterTable
ALTER TABLE "rain" ADD COLUMN     "withdrawn_at" TIMESTAMPTZ(3),
ADD COLUMN     "withdrawn_by" TEXT;

ALTER TABLE locate_rule ADD CONSTRAINT locate_rule_start_within_unit_word CHECK (start_within_unit IN ('business_day', 'calendar_day'));

-- A ticket on record was called for the digs of its order and of the parts that follow it.
UPDATE locate_ticket t SET digs = d.digs
  FROM (WITH RECURSIVE covered AS (
          SELECT id AS ticket_id, work_order_id FROM locate_ticket
          UNION SELECT c.ticket_id, o.id FROM work_order o JOIN covered c ON o.follows_id = c.work_order_id
        )
        SELECT c.ticket_id, jsonb_agg(DISTINCT jsonb_build_object('kind', k.kind, 'lineId', k.line_id, 'pitId', k.pit_id)) AS digs
          FROM covered c JOIN work_order_task k ON k.work_order_id = c.work_order_id
         WHERE k.kind IN ('dig_and_replace', 'add_cleanout', 'replace_outlet')
         GROUP BY c.ticket_id) d
 WHERE d.ticket_id = t.id;
