import type { Stores } from '../actions/house.js';
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

export function makeStores(q: Queryable): Stores {
  return {
    ...makeSavepoints(q),
    sync: makeSyncStore(q),
    rows: makeRowStore(q),
    claims: makeClaimStore(q),
    keys: makeKeyStore(q),
    work: makeWorkStore(q),
    workLife: makeWorkLifeStore(q),
    night: makeNightStore(q),
    plans: makePlanStore(q),
    answers: makeAnswerStore(q),
    imports: makeImportStore(q),
    jobs: makeJobStore(q),
    changes: makeChangeStore(q),
    reviews: makeReviewStore(q),
    settings: makeSettingStore(q),
    scores: makeScoreStore(q),
    search: makeSearchStore(q),
    desk: makeDeskStore(q),
    records: makeRecordStore(q),
    reports: makeReportStore(q),
    events: makeEventStore(q),
    erasures: makeErasureStore(q),
    post: makePostStore(q),
    feeds: makeFeedStore(q),
  };
}
