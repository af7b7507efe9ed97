import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { DueRule } from '../domain/fouling/dueDateReason.js';
import type { LineKind } from '../domain/words.js';
import { strong, theirs, type Words } from './paper.js';
import { dayText } from './printed.js';
import { LINE_KIND_TEXT } from './wording.js';

/** When we come next to a house, as reckoned on one day: lines that are cleaned together are one visit. */
export interface Coming {
  reckonedOn: IsoDate;
  /** By day; none: nothing is dated. */
  visits: readonly ComingVisit[];
  /** Lines whose visits the client declined. */
  declined: readonly NamedLine[];
}

export interface ComingVisit {
  on: IsoDate;
  /** What sets the day; null: not kept. */
  rule: DueRule | null;
  line: NamedLine;
  /** Days from the day of reckoning until it is as likely as not past its action limit; null: not foreseen. */
  fillsInDays: number | null;
  /** Cleans on record of the line that sets the day. */
  cleans: number;
}

/** A line as its house calls it: by its kind, and by name where the house has several of the kind. */
export interface NamedLine {
  kind: LineKind;
  name: string | null;
}

const yours = ({ kind, name }: NamedLine): Words => [
  `your ${LINE_KIND_TEXT[kind]}`,
  ...(name === null ? [] : [' (', theirs(name), ')']),
];

const NUMBERS = ['no', 'one', 'two', 'three', 'four', 'five', 'six', 'seven', 'eight', 'nine', 'ten'];
const counted = (count: number, one: string): string =>
  `${NUMBERS[count] ?? count} ${one}${count === 1 ? '' : 's'}`;

/** "about two months": no finer than anybody can know it. */
export function aboutTime(days: number): string {
  if (days < 14) return 'less than two weeks';
  if (days < 49) return `about ${counted(Math.round(days / 7), 'week')}`;
  if (days < 700) return `about ${counted(Math.round(days / 30.4), 'month')}`;
  return `about ${counted(Math.round(days / 365.25), 'year')}`;
}

/** A line that was cleaned so often is not told to be new to us. */
const WELL_KNOWN = 2;

/** Why we come on that day, for who lives there; empty: not kept. */
function why({ rule, line, fillsInDays, cleans }: ComingVisit): Words {
  const whose = yours(line);
  const fills: Words | null =
    fillsInDays === null
      ? null
      : fillsInDays <= 0
        ? [...whose, ' is full enough to be cleaned']
        : [...whose, ` fills up in ${aboutTime(fillsInDays)}`];
  switch (rule) {
    case null:
      return [];
    case 'refused':
      return ['not before you ask us: you declined'];
    case 'postponed':
      return ['you asked us to come later'];
    case 'over_limit':
      return [...whose, ' is probably too full already to be cleaned in one go'];
    case 'after_plug':
      return [...whose, ' was plugged, and we look again sooner than usual'];
    case 'recheck':
      return ['much was in ', ...whose, ' or was left in it, and we look again sooner than usual'];
    case 'limit_passed':
      return ['last time ', ...whose, ' was already too full when we came'];
    case 'risk':
      return fills ?? ['later ', ...whose, ' might plug'];
    case 'cost_least':
      return fills ?? [...whose, ' is easily cleaned until then'];
    case 'hardening':
      return ['the soft deposit in ', ...whose, ' turns hard when it is left longer'];
    case 'care_terms':
      return ['as agreed in your care terms'];
    case 'first_interval':
      return cleans > WELL_KNOWN
        ? [...whose, ' is cleaned at a steady interval until it is found good several times']
        : ['we do not know ', ...whose, ' well yet'];
    case 'growth':
      return ['we lengthen the time between visits to ', ...whose, ' in steps'];
    case 'max_interval':
      return ['no line waits longer'];
    case 'closed_season':
      return ['later comes the season in which we cannot work there'];
    default:
      return rule satisfies never;
  }
}

/**
 * One sentence a visit, the earliest first, without its beginning and its stop: "by 20 Oct 2026: why".
 *
 * @param day Of the paper: a day that is past is not promised again.
 */
export function comingWords({ visits }: Pick<Coming, 'visits'>, day: IsoDate): Words[] {
  return visits.map((visit, i) => {
    const when =
      visit.on > day
        ? ['by ', strong(dayText(visit.on))]
        : ['as soon as a crew can, due since ', strong(dayText(visit.on))];
    const because = why(visit);
    return [
      ...(i === 0 ? [] : ['to ', ...yours(visit.line), ' ']),
      ...when,
      ...(because.length === 0 ? [] : [': ', ...because]),
    ];
  });
}

/** Lines to which nobody comes, since their client declined; empty: none. */
export function declinedLines({ declined }: Pick<Coming, 'declined'>): Words {
  if (declined.length === 0) return [];
  return [
    'To ',
    ...declined.flatMap((line, i) => [...(i === 0 ? [] : [', ']), ...yours(line)]),
    ' we come when you ask us: you declined.',
  ];
}

/** Whether two reckonings tell a client the same. */
export const tellsTheSame = (a: Coming, b: Coming): boolean =>
  a.visits.length === b.visits.length && a.visits.every(({ on }, i) => on === b.visits[i]?.on);
