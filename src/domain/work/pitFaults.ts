import { PIT_PARTS } from '../fouling/dueDateOfPit.js';
import type { PlugCause, TaskKind } from '../words.js';

/** What of a pit's pump is dead, worst first: each is looked for when a pit is tested. */
export const PIT_PART_NAMES = ['floatCycled', 'checkValveHolds', 'backupWorks', 'alarmWorks'] as const;
export type PitPart = (typeof PIT_PART_NAMES)[number];

/** Answers of a look at a pit; what was not tried is left out. */
export type PitAnswers = { [Part in PitPart]?: boolean | null | undefined };

/** Parts that a look found dead, worst first. */
export const deadParts = (look: PitAnswers): PitPart[] =>
  PIT_PART_NAMES.filter((part) => look[part] === false);

export const faultTexts = (parts: readonly PitPart[]): string[] => parts.map((part) => PIT_PARTS[part]);

/**
 * Days until a dead part is repaired, by what it leads to: a dead float floods, a leaking check valve pumps the same
 * water again until the pump is worn, a dead backup floods with the next power cut, a dead alarm is only not heard.
 * Common practice, no source.
 */
const REPAIR_DAYS: Record<PitPart, number> = {
  floatCycled: 0,
  checkValveHolds: 2,
  backupWorks: 7,
  alarmWorks: 14,
};

export interface PitRepair {
  /** Nothing starts the pump: water is taken out some other way until it is repaired. */
  pumpFirst: boolean;
  withinDays: number;
  tasks: readonly { kind: TaskKind; plan: object }[];
}

/** What dead parts ask for; null: nothing is dead. Whatever is repaired is tested after it. */
export function pitRepair(dead: readonly PitPart[]): PitRepair | null {
  const [worst] = dead;
  if (worst === undefined) return null;
  const ofPump = dead.filter((part) => part !== 'alarmWorks');
  return {
    pumpFirst: worst === 'floatCycled',
    withinDays: REPAIR_DAYS[worst],
    tasks: [
      ...(ofPump.length > 0 ? [{ kind: 'fit_pump' as const, plan: { repair: faultTexts(ofPump) } }] : []),
      ...(dead.includes('alarmWorks') ? [{ kind: 'fit_alarm' as const, plan: { repair: true } }] : []),
      { kind: 'test_pump', plan: { cycleTheFloat: true } },
    ],
  };
}

/** Whether a test of a pump counts as one: nothing was found dead, and its water had somewhere to go. */
export const countsAsTest = (dead: readonly PitPart[], isDischargePlugged: boolean): boolean =>
  dead.length === 0 && !isDischargePlugged;

/** What a crew does at once about what it has just found, in its order. */
export interface WhatNow {
  steps: { text: string; source: string }[];
  /** Work to add to the visit under way, as it would be sent. */
  foundWork: { kind: TaskKind; pitId: string }[];
}

const COMMON = 'common practice, no source; local codes come first';
const step = (text: string) => ({ text, source: COMMON });
const PUMP_ROUND =
  'Set a temporary pump before you leave, or tell the office now that you have none: water runs in and nothing takes it out.';
const ELECTRICITY = step(
  'Unplug or lock out the pump before reaching in; stand in no water at an outlet. Wiring is for a licensed electrician where the code asks for one.',
);

/**
 * What to do about a plug the moment it is found.
 *
 * @param drowns Pit that the plugged line should empty, where water runs in; null: none.
 */
export function nowAtPlug(cause: PlugCause, drowns: string | null): WhatNow {
  const ice =
    cause === 'ice' ? [step('No open flame, no steam from a boiler: warm water or warm air, and time.')] : [];
  if (drowns === null)
    return {
      steps: [step('Let no more water in from above than the line can hold.'), ...ice],
      foundWork: [],
    };
  return {
    steps: [
      step('Stop flushing and jetting toward the pit: it cannot empty.'),
      ELECTRICITY,
      step(PUMP_ROUND),
      step('Tell whoever lives there what may flood, and from when.'),
      ...ice,
    ],
    foundWork: [{ kind: 'temporary_pump', pitId: drowns }],
  };
}

/** What to do about parts of a pump found dead; null: nothing is. */
export function nowAtFault(dead: readonly PitPart[], pitId: string, hasInflow: boolean): WhatNow | null {
  if (dead.length === 0) return null;
  const floods = dead.includes('floatCycled') && hasInflow;
  return {
    steps: [
      ELECTRICITY,
      step(`Repair it now where you can, and test again: ${faultTexts(dead).join('; ')}.`),
      ...(floods ? [step(PUMP_ROUND)] : []),
      step('Tell whoever lives there what does not work, and to listen for water.'),
    ],
    foundWork: floods ? [{ kind: 'temporary_pump', pitId }] : [],
  };
}
