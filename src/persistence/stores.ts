import type { Stores } from '../actions/house.js';
import type { Savepoints } from '../actions/sync/syncStore.js';
import { makeAnswerStore } from './answers.js';
import { makeChangeStore } from './changeStore.js';
import { makeClaimStore } from './claimStore.js';
import { makeDeskStore } from './deskStore.js';
import { makeErasureStore } from './erasureStore.js';
import { makeEventStore } from './eventStore.js';
import { makeFeedStore } from './feedStore.js';
import { makeImportStore } from './importStore.js';
import { makeJobStore } from './jobStore.js';
import { makeKeyStore } from './keyStore.js';
import { makeNightStore } from './nightStore.js';
import { makePlanStore } from './planStore.js';
import { makePostStore } from './postStore.js';
import { makeRecordStore } from './recordStore.js';
import { makeReportStore } from './reports/reportStore.js';
import { makeReviewStore } from './reviewStore.js';
import { makeRowStore, type Queryable } from './rowStore.js';
import { makeScoreStore } from './scoreStore.js';
import { makeSearchStore } from './searchStore.js';
import { makeSettingStore } from './settingStore.js';
import { makeSavepoints, makeSyncStore } from './syncStore.js';
import { makeWorkLifeStore } from './workLifeStore.js';
import { makeWorkStore } from './workStore.js';

const MAKERS: { [K in Exclude<keyof Stores, keyof Savepoints>]: (q: Queryable) => Stores[K] } = {
  sync: makeSyncStore,
  rows: makeRowStore,
  claims: makeClaimStore,
  keys: makeKeyStore,
  work: makeWorkStore,
  workLife: makeWorkLifeStore,
  night: makeNightStore,
  plans: makePlanStore,
  answers: makeAnswerStore,
  imports: makeImportStore,
  jobs: makeJobStore,
  changes: makeChangeStore,
  reviews: makeReviewStore,
  settings: makeSettingStore,
  scores: makeScoreStore,
  search: makeSearchStore,
  desk: makeDeskStore,
  records: makeRecordStore,
  reports: makeReportStore,
  events: makeEventStore,
  erasures: makeErasureStore,
  post: makePostStore,
  feeds: makeFeedStore,
};

/** Each store is made when it is first asked for: one transaction needs few of them, and together they are hundreds of functions. */
export function makeStores(q: Queryable): Stores {
  const stores = makeSavepoints(q) as Stores;
  for (const [name, make] of Object.entries(MAKERS)) {
    let store: unknown;
    Object.defineProperty(stores, name, {
      enumerable: true,
      get() {
        store ??= make(q);
        return store;
      },
    });
  }
  return stores;
}
