import { parseArgs } from 'node:util';
import { date, estimate } from '../../../src/actions/night/estimateAndDate.js';
import { NightBooks } from '../../../src/actions/night/nightBooks.js';
import { businessZone } from '../../../src/domain/calendar/businessZone.js';
import { settingsWith } from '../../../src/domain/work/settings.js';
import { lineThreads, threadsFor } from '../../../src/jobs/lineThreads.js';
import { makeHouse } from '../../../src/persistence/house.js';
import { openPool } from '../../../src/persistence/pool.js';

// Steps `estimate` and `date` of one night on the database at --url, in a process of its own. Prints one line of JSON,
// and while it works each tenth of a step on the error output.
const { values } = parseArgs({
  options: {
    url: { type: 'string', default: '' },
    day: { type: 'string', default: '' },
    /** As many as the service takes where none are told. */
    threads: { type: 'string' },
  },
});
const pool = openPool(values.url);
const house = makeHouse(pool, {
  clock: { now: () => new Date() },
  zone: businessZone('America/Chicago'),
  units: 'metric',
  currency: 'USD',
  version: 'bench',
  lineWork: (lines) =>
    lineThreads(
      new URL('../../../src/jobs/lineThread.js', import.meta.url),
      values.threads === undefined ? threadsFor(lines) : Number(values.threads),
    ),
});
const settings = settingsWith({});
const actor = { name: `night ${values.day}` };
const started = process.cpuUsage();
const books = new NightBooks(house, values.day);
const startedAt = performance.now();
const progressOf = (step: string) => {
  let told = 0;
  return (share: number): void => {
    if (share < told + 0.1) return;
    told = share;
    console.error(`${values.day} ${step} ${Math.round(100 * share)} %`);
  };
};
const estimated = await house.transact(actor, (stores) =>
  estimate(house, stores, values.day, progressOf('estimate'), books),
);
const between = performance.now();
const dated = await house.transact(actor, (stores) =>
  date(house, stores, values.day, settings, progressOf('date'), books),
);
const endedAt = performance.now();
await books.hands.close();
const used = process.cpuUsage(started);
console.log(
  JSON.stringify({
    estimate: (between - startedAt) / 1000,
    date: (endedAt - between) / 1000,
    processor: (used.user + used.system) / 1e6,
    counts: { ...estimated, ...dated },
  }),
);
await pool.end();
