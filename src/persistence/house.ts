import type { Pool } from 'pg';
import type { House } from '../actions/house.js';
import type { Clock } from '../actions/ports.js';
import type { BusinessZone } from '../domain/calendar/businessZone.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import { makeReads } from './reads.js';
import { asRefusal, refusing } from './refusals.js';
import { makeStores } from './stores.js';
import { inTransaction } from './transaction.js';

export interface HouseFacts {
  clock: Clock;
  zone: BusinessZone;
  units: UnitSystem;
  currency: string;
  version: string;
  lineWork?: NonNullable<House['lineWork']>;
  files?: NonNullable<House['files']>;
  printer?: NonNullable<House['printer']>;
}

/** The stores over one pool, and one transaction at a time for every write. */
export function makeHouse(pool: Pool, facts: HouseFacts): House {
  return {
    ...facts,
    stores: makeStores(refusing(pool)),
    reads: makeReads(pool),
    async transact(actor, work) {
      try {
        return await inTransaction(pool, { actor: actor.name, now: facts.clock.now() }, (tx) =>
          work(makeStores(refusing(tx))),
        );
      } catch (error) {
        throw asRefusal(error);
      }
    },
  };
}
