import type { WorkStore } from '../actions/house.js';
import type { Queryable } from './rowStore.js';

export function makeWorkStore(q: Queryable): WorkStore {
  return {
    async isOnRouteOf(memberId, day, siteId) {
      const { rows } = await q.query(
        `SELECT 1 FROM crew_membership m
           JOIN route r ON r.crew_id = m.crew_id AND (r.day = $2 OR (r.on_call AND r.day = $2::date - 1)) AND r.state = 'live'
           JOIN stop s ON s.route_id = r.id
           JOIN work_order o ON o.id = s.work_order_id
          WHERE m.member_id = $1 AND m.from_day <= $2 AND (m.to_day IS NULL OR m.to_day > $2) AND o.site_id = $3 LIMIT 1`,
        [memberId, day, siteId],
      );
      return rows.length > 0;
    },

    async isAreaOf(memberId, day, area) {
      const { rows } = await q.query(
        `SELECT 1 FROM crew_membership m
           JOIN route r ON r.crew_id = m.crew_id AND (r.day = $2 OR (r.on_call AND r.day = $2::date - 1)) AND r.state = 'live'
           JOIN stop s ON s.route_id = r.id
           JOIN work_order o ON o.id = s.work_order_id
           JOIN site p ON p.id = o.site_id
          WHERE m.member_id = $1 AND m.from_day <= $2 AND (m.to_day IS NULL OR m.to_day > $2) AND lower(trim(p.area)) = lower(trim($3))
          UNION ALL
         SELECT 1 FROM call_out c JOIN work_order o ON o.id = c.work_order_id JOIN site p ON p.id = o.site_id
          WHERE c.member_id = $1 AND c.called_at::date >= $2::date - 1 AND lower(trim(p.area)) = lower(trim($3)) LIMIT 1`,
        [memberId, day, area],
      );
      return rows.length > 0;
    },

    async callOutsTo(memberId, siteId) {
      const { rows } = await q.query(
        `SELECT c.called_at, c.back_at FROM call_out c JOIN work_order o ON o.id = c.work_order_id
          WHERE c.member_id = $1 AND o.site_id = $2 ORDER BY c.called_at DESC`,
        [memberId, siteId],
      );
      return rows;
    },

    async isSiteOf(memberId, siteId) {
      const { rows } = await q.query(
        `SELECT 1 FROM call_out c JOIN work_order o ON o.id = c.work_order_id WHERE c.member_id = $1 AND o.site_id = $2
          UNION ALL
         SELECT 1 FROM work_order o
           JOIN stop s ON s.work_order_id = o.id
           JOIN route r ON r.id = s.route_id AND r.state IN ('live', 'replaced')
           JOIN crew_membership m ON m.crew_id = r.crew_id AND m.from_day <= r.day AND (m.to_day IS NULL OR m.to_day > r.day)
          WHERE o.site_id = $2 AND m.member_id = $1 LIMIT 1`,
        [memberId, siteId],
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
        `SELECT 1 FROM call_out c WHERE c.member_id = $1 AND c.work_order_id = $2
          UNION ALL
         SELECT 1 FROM stop s
           JOIN route r ON r.id = s.route_id AND r.state = 'live'
           JOIN crew_membership m ON m.crew_id = r.crew_id AND m.from_day <= r.day AND (m.to_day IS NULL OR m.to_day > r.day)
          WHERE s.work_order_id = $2 AND m.member_id = $1 LIMIT 1`,
        [memberId, workOrderId],
      );
      return rows.length > 0;
    },

    async isOrderFor(memberId, workOrderId) {
      const { rows } = await q.query(
        `SELECT 1 FROM call_out c WHERE c.member_id = $1 AND c.work_order_id = $2
          UNION ALL
         SELECT 1 FROM stop s
           JOIN route r ON r.id = s.route_id AND r.state IN ('live', 'replaced')
           JOIN crew_membership m ON m.crew_id = r.crew_id AND m.from_day <= r.day AND (m.to_day IS NULL OR m.to_day > r.day)
          WHERE s.work_order_id = $2 AND m.member_id = $1
          UNION ALL
         SELECT 1 FROM work_order o
          WHERE o.id = $2 AND o.cause IN ('plugged', 'return_work', 'follow_up')
            AND NOT EXISTS (SELECT FROM stop s WHERE s.work_order_id = o.id AND s.live)
          LIMIT 1`,
        [memberId, workOrderId],
      );
      return rows.length > 0;
    },

    async dischargeFacts() {
      const { rows } = await q.query(
        `SELECT DISTINCT ON (l.id) l.id AS line_id, l.main_bore_mm AS bore_mm, l.length_m, l.lift_m, l.main_material AS material, u.curve, p.inflow_lps,
                (SELECT s.product FROM line_section s WHERE s.line_id = l.id AND s.removed_on IS NULL
                  ORDER BY coalesce(s.to_m - s.from_m, 'Infinity') DESC, s.id LIMIT 1) AS product, p.diameter_mm,
                (SELECT max((i.raw->>'riseMmPerMinute')::float8) FROM inspection i
                  WHERE i.line_id = l.id AND i.method = 'pit_drawdown' AND i.replaced_at IS NULL AND i.withdrawn_at IS NULL) AS fastest_rise
           FROM pit p
           JOIN line l ON l.id = p.discharge_line_id AND l.archived_on IS NULL
           JOIN pump u ON u.pit_id = p.id AND u.duty = 'main' AND u.removed_on IS NULL AND u.curve IS NOT NULL
          WHERE p.archived_on IS NULL
          ORDER BY l.id, u.installed_on DESC NULLS LAST, u.id`,
      );
      return rows;
    },

    async cleanReferences(lineId) {
      const { rows } = await q.query(
        `SELECT observed_at, phase, raw FROM inspection
          WHERE line_id = $1 AND method IN ('pit_drawdown', 'timed_fill') AND phase = 'after_cleaning'
            AND replaced_at IS NULL AND withdrawn_at IS NULL`,
        [lineId],
      );
      return rows;
    },

    async linesOfProduct(product) {
      const { rows } = await q.query(
        'SELECT DISTINCT line_id FROM line_section WHERE product = $1 ORDER BY line_id',
        [product],
      );
      return rows.map((row) => String(row['line_id']));
    },

    async setBoreOfSize(product, nominal, fromMm, toMm) {
      const { rowCount } = await q.query(
        'UPDATE line_section SET bore_mm = $4 WHERE product = $1 AND nominal = $2 AND abs(bore_mm - $3) < 0.005',
        [product, nominal, fromMm, toMm],
      );
      return rowCount ?? 0;
    },

    async linesConvertedBefore(version) {
      const { rows } = await q.query(
        'SELECT DISTINCT line_id FROM inspection WHERE line_id IS NOT NULL AND conversion_version < $1 ORDER BY line_id',
        [version],
      );
      return rows.map((row) => String(row['line_id']));
    },

    async setOcclusions(changes) {
      const { rowCount } = await q.query(
        `UPDATE inspection i SET occlusion = r.occlusion, standard_error = r.standard_error, bound = r.bound, notes = r.notes,
                conversion_version = r.conversion_version
           FROM jsonb_populate_recordset(NULL::public.inspection, $1::jsonb) r
          WHERE i.id = r.id AND (i.occlusion, i.standard_error, i.bound, i.notes, i.conversion_version)
                IS DISTINCT FROM (r.occlusion, r.standard_error, r.bound, r.notes, r.conversion_version)`,
        [JSON.stringify(changes)],
      );
      return rowCount ?? 0;
    },
  };
}
