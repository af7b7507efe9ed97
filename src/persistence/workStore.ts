import type { WorkStore } from '../actions/house.js';
import type { Queryable } from './rowStore.js';

export function makeWorkStore(q: Queryable): WorkStore {
  return {
    async isOnRouteOf(memberId, day, siteId) {
      const { rows } = await q.query(
        `SELECT 1 FROM crew_membership m
           JOIN route r ON r.crew_id = m.crew_id AND r.day = $2 AND r.state = 'live'
           JOIN stop s ON s.route_id = r.id
           JOIN work_order o ON o.id = s.work_order_id
          WHERE m.member_id = $1 AND m.from_day <= $2 AND (m.to_day IS NULL OR m.to_day > $2) AND o.site_id = $3 LIMIT 1`,
        [memberId, day, siteId],
      );
      return rows.length > 0;
    },

    async crewOf(memberId, day) {
      const { rows } = await q.query(
        'SELECT crew_id FROM crew_membership WHERE member_id = $1 AND from_day <= $2 AND (to_day IS NULL OR to_day > $2)',
        [memberId, day],
      );
      return rows[0] ? String(rows[0]['crew_id']) : null;
    },

    async isOrderOf(memberId, workOrderId) {
      const { rows } = await q.query(
        `SELECT 1 FROM stop s
           JOIN route r ON r.id = s.route_id AND r.state = 'live'
           JOIN crew_membership m ON m.crew_id = r.crew_id AND m.from_day <= r.day AND (m.to_day IS NULL OR m.to_day > r.day)
          WHERE s.work_order_id = $2 AND m.member_id = $1 LIMIT 1`,
        [memberId, workOrderId],
      );
      return rows.length > 0;
    },

    async cleanDrawdown(lineId) {
      // Rise and fall of the first draw-down after the last clean: what this pump does through a clean line.
      const { rows } = await q.query(
        `SELECT (i.raw->>'riseMmPerMinute')::float8 + (i.raw->>'fallMmPerMinute')::float8 AS moved
           FROM inspection i
          WHERE i.line_id = $1 AND i.method = 'pit_drawdown' AND i.phase = 'after_cleaning' AND i.raw ? 'fallMmPerMinute'
            AND i.replaced_at IS NULL AND i.withdrawn_at IS NULL
          ORDER BY i.observed_at DESC LIMIT 1`,
        [lineId],
      );
      const moved = Number(rows[0]?.['moved']);
      return moved > 0 ? moved : null;
    },
  };
}
