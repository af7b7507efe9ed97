import type { Basement, CallKind, Urgency } from '../words.js';
import type { CallSettings } from './settings.js';

export type Answer = 'yes' | 'no' | 'unknown';

/** What a caller can say without going near the water. */
export interface CallAnswers {
  waterInHouse: Answer;
  /** Water has reached outlets, the panel, appliances or cords. */
  waterNearElectricity: Answer;
  pumpRuns: Answer;
  backupRuns: Answer;
  smellOfGas: Answer;
  sewage: Answer;
}

export const CALL_QUESTIONS = [
  'waterInHouse',
  'waterNearElectricity',
  'pumpRuns',
  'backupRuns',
  'smellOfGas',
  'sewage',
] as const satisfies readonly (keyof CallAnswers)[];

export const NOTHING_ANSWERED: CallAnswers = {
  waterInHouse: 'unknown',
  waterNearElectricity: 'unknown',
  pumpRuns: 'unknown',
  backupRuns: 'unknown',
  smellOfGas: 'unknown',
  sewage: 'unknown',
};

export interface TriageReason {
  code: string;
  facts: Record<string, unknown>;
  text: string;
}

export interface Triage {
  /** What the call is treated as. */
  kind: CallKind;
  urgency: Urgency;
  respondWithinMinutes: number;
  reasons: TriageReason[];
  /** Nobody enters before someone qualified has made the place safe. */
  unsafe: boolean;
  /** Water stands in the house, or may. */
  flooded: boolean;
}

/** Up to so many minutes somebody leaves now; up to a day it is still today's work. Common practice, no source. */
const AT_ONCE_MINUTES = 240;
const TODAY_MINUTES = 24 * 60;

/**
 * How soon somebody must be there. Whatever the caller began with, water in the house is water rising, and a smell
 * of gas is for at once; a finished basement shortens the time by the owner's factor. Common practice, no source; the minutes are the owner's.
 */
export function triage(
  told: CallKind,
  answers: CallAnswers,
  basement: Basement,
  calls: Pick<CallSettings, 'respondWithinMinutes' | 'finishedBasementFactor'>,
): Triage {
  const reasons: TriageReason[] = [];
  const because = (code: string, text: string, facts: Record<string, unknown> = {}) =>
    reasons.push({ code, facts, text });
  const kind = treatedAs(told, answers);
  const flooded = kind === 'water_rising';
  if (kind !== told) because(kind, `${words(told)}, treated as ${words(kind)}: ${whyOther(kind)}`, { told });
  else because(kind, words(kind));
  let minutes = calls.respondWithinMinutes[kind];
  if (flooded && basement === 'finished') {
    minutes = Math.max(1, Math.round(minutes * calls.finishedBasementFactor));
    because('finished_basement', 'a finished basement: the time is shortened', {
      factor: calls.finishedBasementFactor,
    });
  }
  if (answers.smellOfGas === 'yes') {
    minutes = Math.min(minutes, AT_ONCE_MINUTES);
    because(
      'smell_of_gas',
      'smell of gas: nobody goes in until the gas company or fire department allows it',
    );
  }
  if (answers.waterNearElectricity === 'yes')
    because(
      'water_near_electricity',
      'water has reached electricity: nobody enters until power is off by someone qualified',
    );
  if (answers.sewage === 'yes')
    because('sewage', 'what comes up may be sewage: gloves, eyes, nobody touches it');
  if (told === 'power_out' && answers.backupRuns === 'yes')
    because('backup_runs', 'a backup pump runs: its battery lasts hours, not days');
  return {
    kind,
    urgency: minutes <= AT_ONCE_MINUTES ? 'at_once' : minutes <= TODAY_MINUTES ? 'today' : 'in_days',
    respondWithinMinutes: minutes,
    reasons,
    unsafe: answers.smellOfGas === 'yes',
    flooded,
  };
}

/** Whatever the caller began with: water in the house is rising, a pump that stands still an alarm. */
export function treatedAs(told: CallKind, answers: CallAnswers): CallKind {
  if (answers.waterInHouse === 'yes' || answers.waterNearElectricity === 'yes') return 'water_rising';
  const idle = answers.pumpRuns === 'no' && answers.backupRuns !== 'yes';
  if ((told === 'orange_stain' || told === 'other') && idle) return 'alarm';
  return told;
}

const whyOther = (kind: CallKind): string =>
  kind === 'water_rising' ? 'there is water in the house' : 'the pump does not run';

const words = (kind: CallKind): string => kind.replaceAll('_', ' ');
