import type { TaskKind } from '../domain/words.js';
import { type Caution, type CautionFacts, cautionsOf, placeCautionCodes } from '../domain/work/cautions.js';
import type { DayCaution, SheetCaution } from './routeSheetData.js';

/** What a visit's cautions follow from, with its number on the sheet. */
export interface CautionedVisit {
  number: number;
  tasks: readonly TaskKind[];
  facts: CautionFacts;
}

/** A day's cautions as its sheet prints them: none twice for a stop, none left out. */
export interface DayCautions {
  /** What two or more stops share: once, on the first page. */
  ofDay: DayCaution[];
  /** In the order of the visits given: what only this stop has, and all that its house adds. */
  ofVisits: StopCautions[];
}

export interface StopCautions {
  /** Of the visit: what several tasks share and what the house adds. */
  ofVisit: SheetCaution[];
  /** Of each task, in the order given: what no other task of the stop has. */
  ofTasks: SheetCaution[][];
}

const COMMON_PRACTICE = 'common practice, no source';

/** The cautions of a day, laid out for its sheet: read once for the day, at a stop only what differs there. */
export function dayCautions(visits: readonly CautionedVisit[]): DayCautions {
  const shared = new Map<string, DayCaution>();
  const told = visits.map((visit) => {
    const ofHouse = new Set<string>(placeCautionCodes(visit.facts));
    const all = cautionsOf(visit.tasks, visit.facts);
    for (const caution of all) {
      if (ofHouse.has(caution.code)) continue;
      const { stops = [] } = shared.get(caution.code) ?? {};
      shared.set(caution.code, { ...printed(caution), name: caution.name, stops: [...stops, visit.number] });
    }
    return { visit, all, ofHouse };
  });
  const isOfDay = (code: string): boolean => (shared.get(code)?.stops.length ?? 0) > 1;
  return {
    ofDay: [...shared.values()].filter(({ stops }) => stops.length > 1),
    ofVisits: told.map(({ visit, all, ofHouse }) =>
      stopCautions(
        visit.tasks,
        all.filter(({ code }) => ofHouse.has(code) || !isOfDay(code)),
        ofHouse,
      ),
    ),
  };
}

/** A task's own cautions stand with the task; local codes belong to every task, so they stand with the visit. */
function stopCautions(
  tasks: readonly TaskKind[],
  cautions: readonly Caution[],
  ofHouse: ReadonlySet<string>,
): StopCautions {
  const ownCodes = tasks.map((task) => new Set(cautionsOf([task], {}).map(({ code }) => code)));
  const isOwn = ({ code }: Caution) =>
    code !== 'local_codes' && !ofHouse.has(code) && ownCodes.filter((codes) => codes.has(code)).length === 1;
  return {
    ofVisit: cautions.filter((each) => !isOwn(each)).map(printed),
    ofTasks: ownCodes.map((codes) =>
      cautions.filter((each) => isOwn(each) && codes.has(each.code)).map(printed),
    ),
  };
}

const printed = ({ text, source }: Caution): SheetCaution => ({
  text,
  source: source === COMMON_PRACTICE ? null : source,
});
