import type { ReportStore } from '../../actions/reports/reportStore.js';
import type { Queryable } from '../rowStore.js';
import { sampleLines } from './lineSample.js';
import { makeMoneyReports } from './moneyReports.js';
import { makeProposalReports } from './proposalReports.js';
import { makeStateReports } from './stateReports.js';

export function makeReportStore(q: Queryable): ReportStore {
  return {
    sampleLines: (asked, atMost) => sampleLines(q, asked, atMost),
    async siteValues(column) {
      const { rows } = await q.query(
        `SELECT DISTINCT ${column} AS value FROM site WHERE ${column} IS NOT NULL ORDER BY 1`,
      );
      return rows.map(({ value }) => String(value));
    },
    async driveMinutes() {
      const { rows } = await q.query(
        `SELECT sum(r.drive_s)::float8 / nullif(sum(s.visits), 0) / 60 AS minutes
           FROM route r JOIN LATERAL (SELECT count(*) AS visits FROM stop WHERE route_id = r.id AND kind = 'visit') s ON true
          WHERE r.state IN ('live', 'replaced') AND r.day > now() - interval '1 year'`,
      );
      const minutes = rows[0]?.['minutes'] ?? null;
      return minutes === null ? null : Number(minutes);
    },
    ...makeStateReports(q),
    ...makeMoneyReports(q),
    ...makeProposalReports(q),
  };
}
