import type { ReportStore } from '../../actions/reports/reportStore.js';
import type { Queryable } from '../rowStore.js';
import { sampleLines } from './lineSample.js';
import { makeMoneyReports } from './moneyReports.js';
import { makeProposalReports } from './proposalReports.js';
import { makeStateReports } from './stateReports.js';

export function makeReportStore(q: Queryable): ReportStore {
  return {
    sampleLines: (asked, atMost) => sampleLines(q, asked, atMost),
    ...makeStateReports(q),
    ...makeMoneyReports(q),
    ...makeProposalReports(q),
  };
}
