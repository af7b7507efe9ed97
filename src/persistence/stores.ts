import type { Stores } from '../actions/house.js';
import { makeAnswerStore } from './answers.js';
import { makeClaimStore } from './claimStore.js';
import { makeKeyStore } from './keyStore.js';
import { makeNightStore } from './nightStore.js';
import { makeRowStore, type Queryable } from './rowStore.js';
import { makeWorkStore } from './workStore.js';

export function makeStores(q: Queryable): Stores {
  return {
    rows: makeRowStore(q),
    claims: makeClaimStore(q),
    keys: makeKeyStore(q),
    work: makeWorkStore(q),
    night: makeNightStore(q),
    answers: makeAnswerStore(q),
  };
}
