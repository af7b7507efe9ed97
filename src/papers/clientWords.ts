import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import type {
  DecisionKind,
  Method,
  PlugCause,
  ProposalKind,
  TaskKind,
  WaterReceiver,
} from '../domain/words.js';
import { type Block, list, paragraph, theirs, type Words } from './paper.js';
import { dayText, estimateText, shareText, stopped } from './printed.js';
import { METHOD_TEXT, PLUG_CAUSE_TEXT, PROPOSAL_TEXT, RECEIVER_TEXT, TASK_TEXT } from './wording.js';

/** What was found of a line at one moment. */
export interface ClientReading {
  /** It does not fit the line's other readings, and nobody has judged it yet: its figure is not told. */
  isDoubted: boolean;
  /** Judged to be a slip, or taken back, since: its figure counts for nothing. */
  isTakenBack: boolean;
  /** Day after the visit on which somebody corrected it; null: it stands as it was told. */
  correctedOn: IsoDate | null;
  on: IsoDate;
  /** Null: found plugged and not measured, or looked at without a figure. */
  occlusion: number | null;
  plugged: PlugCause | null;
  method: Method | null;
}

export interface ClientWater {
  receiver: WaterReceiver;
  place: string | null;
  reference: string | null;
  /** Null: nobody wrote it down. */
  waterLitres: number | null;
  sludgeLitres: number | null;
  sludgeTo: string | null;
}

export interface ClientDecision {
  kind: DecisionKind;
  task: TaskKind | null;
  /** Lines it is about; none: the whole house. */
  lines: readonly string[];
  by: string;
  on: IsoDate;
  until: IsoDate | null;
  riskTold: string;
}

/** Stands where a figure would be proof of something nobody believes. */
export const BEING_CHECKED = 'being checked';

export function readingText(reading: ClientReading | null): string {
  if (reading === null) return 'not read';
  if (reading.isTakenBack) return 'taken back since: a slip';
  if (reading.isDoubted) return BEING_CHECKED;
  const corrected = reading.correctedOn === null ? '' : `, corrected ${dayText(reading.correctedOn)}`;
  const how = `${reading.method === null ? '' : ` (${METHOD_TEXT[reading.method]})`}${corrected}`;
  if (reading.plugged !== null) return `plugged: ${PLUG_CAUSE_TEXT[reading.plugged]}${how}`;
  return reading.occlusion === null ? `looked at${how}` : `${shareText(reading.occlusion)} blocked${how}`;
}

export function waterText(water: ClientWater, units: UnitSystem): Words {
  const { receiver, place, reference, waterLitres, sludgeLitres, sludgeTo } = water;
  const litres = (value: number) => estimateText(value, 'volume', units);
  return [
    `Water: ${RECEIVER_TEXT[receiver]}`,
    ...(place === null ? [] : [', ', theirs(place)]),
    ...(waterLitres === null ? [] : [`, ${litres(waterLitres)}`]),
    ...(reference === null ? [] : [', reference ', theirs(reference)]),
    '.',
    ...(sludgeLitres === null && sludgeTo === null
      ? []
      : [
          sludgeLitres === null ? ' Sludge' : ` Sludge: ${litres(sludgeLitres)}`,
          ...(sludgeTo === null ? [] : [' to ', theirs(sludgeTo)]),
          '.',
        ]),
  ];
}

/** A work that was proposed and the client did not want. */
export interface ClientDeclined {
  kind: ProposalKind;
  /** Of what: a line or the pit. */
  target: string;
  by: string;
  on: IsoDate;
  because: string | null;
  evidence: readonly string[];
}

export function declinedText({ kind, target, by, on, because, evidence }: ClientDeclined): Words {
  return [
    `${dayText(on)}: `,
    theirs(by),
    ` declined a proposal (${PROPOSAL_TEXT[kind]}) for `,
    theirs(target),
    ...(because === null ? ['.'] : [': ', theirs(stopped(because))]),
    ...(evidence.length === 0 ? [] : [` Why it was proposed: ${evidence.join(' ')}`]),
  ];
}

export function decisionText({ kind, task, lines, by, on, until, riskTold }: ClientDecision): Words {
  const what = task === null ? 'a visit' : `“${TASK_TEXT[task]}”`;
  return [
    `${dayText(on)}: `,
    theirs(by),
    ` ${kind === 'refusal' ? 'declined' : 'put off'} ${what} for `,
    ...(lines.length === 0 ? ['the house'] : lines.flatMap((line, i) => [i === 0 ? '' : ', ', theirs(line)])),
    until === null ? '' : ` until ${dayText(until)}`,
    '. The risk that was told: ',
    theirs(stopped(riskTold)),
  ];
}

/** For who lives there, in plain words. Common practice, no source. */
const BASEMENT =
  'Water in the basement: do not enter it, and do not touch switches, plugs or the panel. Power is switched off by someone qualified. If anyone is in danger, call the emergency number first.';
const GAS =
  'Smell of gas: leave the house, use no switch and no phone inside, call the gas company from outside.';
const AT_HOME = [
  'Do not reach into the pit: the pump can start by itself.',
  'Pour nothing into the pit or a drain: no cleaner, bleach or acid.',
  'Do not dig near the drain: other lines may lie there. Every utility is asked first.',
  'Keep the end of the pipe free of leaves, soil and snow, as far as you can without digging or reaching in.',
];

/** What must not get lost: near the head of a client's paper. */
export const emergencyBox = (officePhone: string | null): Block => ({
  kind: 'box',
  number: '',
  head: ['Water rises, alarm sounds, pump moves no water: phone us at once'],
  aside: officePhone ?? '',
  blocks: [paragraph(BASEMENT), paragraph(GAS)],
});

export const atHome = (): Block =>
  list(
    'cautions',
    AT_HOME.map((words) => [words]),
  );
