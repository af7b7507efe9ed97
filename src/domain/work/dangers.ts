import type { DangerKind, TaskKind } from '../words.js';

/** What a crew does the moment it meets a danger, in its order. Local codes and the utility's own word come first. */
export interface DoNow {
  text: string;
  source: string;
}

const COMMON = 'common practice, no source; local codes, the utility and the fire service say more';
const step = (text: string): DoNow => ({ text, source: COMMON });

const GAS: readonly DoNow[] = [
  step('Everybody out now, also who lives there; upwind and well away from the house and the trench.'),
  step('Switch nothing on or off: no light, pump, engine, tool, bell or phone inside; no flame, no sparks.'),
  step('Leave pump, nozzle, cable and hose as they are; plug, pull and cover nothing.'),
  step('From outside and at a distance call the emergency number (911 in the US) and the gas utility.'),
  step('Keep people away. Nobody goes back in before the utility or the fire service says so.'),
];

const DO_NOW: Record<DangerKind, readonly DoNow[]> = {
  hard_stop: [
    step('Stop. Pressure off; nothing is forced, turned or cut: a gas line may run through the drain.'),
    step('Look in by camera before anything else goes into this line.'),
    step(
      'The camera shows another pipe or a cable: leave it, report the hard stop again, call the gas utility.',
    ),
    step('A smell of gas or a meter that alarms: leave at once and call from outside.'),
  ],
  gas_smell: GAS,
  gas_meter: GAS,
};

export const doNow = (kind: DangerKind): readonly DoNow[] => DO_NOW[kind];

/** Gas ends the visit for everybody on it; a hard stop ends the work on its line until a camera looked in. */
export const endsVisit = (kind: DangerKind): boolean => kind !== 'hard_stop';

/** Work that goes into a line, or through the ground to it: none of it before the camera after a hard stop. */
export const GOES_INTO_LINE: readonly TaskKind[] = [
  'hose_flush',
  'jet',
  'cable',
  'trace',
  'dig_and_replace',
  'add_cleanout',
  'replace_outlet',
];
