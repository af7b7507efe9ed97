import type { NotDoneReason, PreconditionKind } from '../words.js';

/** What a reason for not doing the work leads to. */
export interface AfterNotDone {
  /** Days until it is tried again, at the earliest. */
  againInDays: number;
  /** What must be settled before it is tried again. */
  opens: PreconditionKind | null;
  /** Whether the trip is billed where the client had been told the day. */
  billedWhenPromised: 'yes' | 'no' | 'goodwill';
  /** Proof the crew brings: a photograph or a note. */
  proof: boolean;
  /** What happens next, for the client's paper. */
  next: string;
}

/** Common practice, no source. `refused` is a decision on record and ends the order. */
const AFTER: Record<NotDoneReason, AfterNotDone> = {
  no_one_home: {
    againInDays: 2,
    opens: 'someone_home',
    billedWhenPromised: 'yes',
    proof: true,
    next: 'we phone to agree a day when somebody is home',
  },
  gate: {
    againInDays: 2,
    opens: 'someone_home',
    billedWhenPromised: 'yes',
    proof: true,
    next: 'we phone to agree how the gate is opened',
  },
  dog: {
    againInDays: 2,
    opens: 'someone_home',
    billedWhenPromised: 'yes',
    proof: true,
    next: 'we phone to agree a day when the dog is kept in',
  },
  snow: {
    againInDays: 7,
    opens: null,
    billedWhenPromised: 'no',
    proof: true,
    next: 'we come back when the outlet is clear of snow',
  },
  outlet_not_found: {
    againInDays: 1,
    opens: null,
    billedWhenPromised: 'no',
    proof: true,
    next: 'we come back with the tracer and find the outlet',
  },
  refused: {
    againInDays: 0,
    opens: null,
    billedWhenPromised: 'yes',
    proof: false,
    next: 'the work is not done; the risk that was told stands on this paper',
  },
  unsafe: {
    againInDays: 1,
    opens: 'made_safe',
    billedWhenPromised: 'no',
    proof: true,
    next: 'the place is made safe by someone qualified before we come back',
  },
  kit: {
    againInDays: 1,
    opens: null,
    billedWhenPromised: 'no',
    proof: false,
    next: 'we come back with the kit it takes, at no charge for this trip',
  },
  water_off: {
    againInDays: 1,
    opens: 'someone_home',
    billedWhenPromised: 'yes',
    proof: false,
    next: 'we phone to agree a day with the water on',
  },
  out_of_time: {
    againInDays: 1,
    opens: null,
    billedWhenPromised: 'goodwill',
    proof: false,
    next: 'we come back on the next day that is free',
  },
  gas: {
    againInDays: 1,
    opens: 'made_safe',
    billedWhenPromised: 'no',
    proof: false,
    next: 'the gas utility or the fire service says that it is safe before anybody goes back in',
  },
};

export const afterNotDone = (reason: NotDoneReason): AfterNotDone => AFTER[reason];

/** Tries in vain for the same reason after which a person looks at the order. Common practice, no source. */
export const TRIES_BEFORE_ESCALATION = 2;
