import type { IsoDate } from '../calendar/isoDate.js';
import type { KitKind } from '../words.js';
import { closes, type SeasonTask } from './closedSeason.js';
import { type CrewDayFacts, kitOf } from './crewDayFacts.js';

/** A planned visit, as far as it hangs on day and crew. */
export interface PlannedNeeds {
  startsAt: string;
  kit: readonly KitKind[];
  people: number;
  tasks: readonly SeasonTask[];
}

/** Why a visit can no longer be done where it stands. */
export interface Hindrance {
  code:
    | 'closed_season'
    | 'kit_out_of_service'
    | 'kit_missing'
    | 'too_few_people'
    | 'crew_away'
    | 'crew_rests'
    | 'promise_broken'
    | 'precondition_open'
    | 'outside_ticket';
  /** `recordIds`: the absences, call-outs, closed season, holiday, promise or locate ticket that are the cause. */
  facts: { recordIds: string[] } & Record<string, unknown>;
  text: string;
}

/** All that keeps a crew from a visit on the day it stands on its route; empty: nothing does. */
export function hindrancesOf(crew: CrewDayFacts, visit: PlannedNeeds, day: IsoDate): Hindrance[] {
  const away = awayBecause(crew);
  return [
    ...(away === null ? tooFew(crew, visit) : [away]),
    ...resting(crew, visit),
    ...closedTo(crew, visit, day),
    ...visit.kit.flatMap((kind) => withoutKit(crew, kind)),
  ];
}

function awayBecause({ crewName, holiday, away }: CrewDayFacts): Hindrance | null {
  const whole = away.find(
    ({ memberId, people, comesBack }) => memberId === null && people === null && !comesBack,
  );
  const cause = holiday
    ? { id: holiday.id, because: holiday.name }
    : whole && { id: whole.id, because: whole.reason };
  if (!cause) return null;
  return {
    code: 'crew_away',
    facts: { recordIds: [cause.id], because: cause.because },
    text: `${crewName} does not work that day: ${cause.because}`,
  };
}

function tooFew(crew: CrewDayFacts, { people: needed }: PlannedNeeds): Hindrance[] {
  const members = new Set(crew.away.flatMap(({ memberId }) => (memberId === null ? [] : [memberId])));
  const gone = crew.away.reduce(
    (sum, { memberId, people }) => sum + (memberId === null ? (people ?? 0) : 0),
    members.size,
  );
  const there = Math.max(0, crew.people - gone);
  if (gone === 0 || there >= needed) return [];
  const text = `needs ${needed} people, ${crew.crewName} has ${there} that day: ${crew.away.map(({ reason }) => reason).join(', ')}`;
  return [
    { code: 'too_few_people', facts: { recordIds: crew.away.map(({ id }) => id), needed, there }, text },
  ];
}

/** Rest after a call-out runs into the day: what stands before its end waits. */
const resting = ({ crewName, rest }: CrewDayFacts, { startsAt }: PlannedNeeds): Hindrance[] =>
  rest === null || Date.parse(startsAt) >= Date.parse(rest.untilAt)
    ? []
    : [
        {
          code: 'crew_rests',
          facts: { recordIds: rest.recordIds, restsUntil: rest.untilAt },
          text: `${crewName} rests after a call-out ${rest.text}`,
        },
      ];

const closedTo = (crew: CrewDayFacts, { tasks }: PlannedNeeds, day: IsoDate): Hindrance[] =>
  crew.seasons
    .filter((season) => closes(season, tasks, day, crew.depotId, true))
    .map(({ id, reason, tasks: closed }) => {
      const kinds = [...new Set(tasks.map(({ kind }) => kind).filter((kind) => closed.includes(kind)))];
      return {
        code: 'closed_season' as const,
        facts: { recordIds: [id], tasks: kinds },
        text: `no ${kinds.map((kind) => kind.replaceAll('_', ' ')).join(', ')} that day: ${reason}`,
      };
    });

/** Nothing of the kind in service: what is out says why, else the crew has none. */
function withoutKit(crew: CrewDayFacts, kind: KitKind): Hindrance[] {
  if (kitOf(crew, kind).length > 0) return [];
  const out = crew.kit.filter((item) => item.kind === kind && item.outBecause !== null);
  if (out.length === 0)
    return [
      {
        code: 'kit_missing',
        facts: { recordIds: [], kind },
        text: `${crew.crewName} has no ${kind.replaceAll('_', ' ')} that day`,
      },
    ];
  return [
    {
      code: 'kit_out_of_service',
      facts: {
        recordIds: out.flatMap(({ outId }) => (outId === null ? [] : [outId])),
        kind,
        kitItemIds: out.map(({ id }) => id),
      },
      text: `${out.map(({ name, outBecause }) => `${name} is out of service: ${outBecause}`).join('; ')}`,
    },
  ];
}
