import { v7 as newId } from 'uuid';
import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { Material } from '../../domain/words.js';
import { sectionChanges } from '../../domain/work/replacement.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';
import { ruleBroken } from '../problems.js';
import { rederiveLines } from '../rederive.js';

/** A run that was dug up and replaced; metres from the upstream end, null: the whole line. */
export interface ReplacedRun {
  lineId: string;
  fromM: number | null;
  toM: number | null;
  material: Material;
  boreMm: number;
  product: string | null;
  nominal: string | null;
  slope: number | null;
}

const number = (value: unknown): number | null => (value === null ? null : Number(value));

/**
 * Writes a replaced run into the line's sections. The whole line opens a clean epoch; a part of it is a known
 * change of regime.
 *
 * @throws {Refused} A part of a line whose length nobody knows.
 */
export async function replaceRun(
  stores: Stores,
  run: ReplacedRun,
  day: IsoDate,
  pointer: string,
): Promise<void> {
  const line = await stores.rows.lock('line', run.lineId);
  if (!line) return;
  const present = await stores.rows.all('line_section', [
    { column: 'line_id', is: '=', value: run.lineId },
    { column: 'removed_on', is: 'null' },
  ]);
  const changes = sectionChanges(
    present.map((row) => ({ id: String(row['id']), fromM: number(row['from_m']), toM: number(row['to_m']) })),
    run,
    number(line['length_m']),
  );
  if (changes === null)
    throw ruleBroken(
      'replacement',
      pointer,
      'a part of a line whose length is unknown',
      'record the length of the line first, or replace the whole of it',
    );
  for (const id of changes.removed) await stores.rows.update('line_section', id, { removed_on: day });
  for (const { id, keeps, rest } of changes.cut) {
    const old = present.find((row) => row['id'] === id) ?? {};
    await stores.rows.update('line_section', id, { from_m: keeps.fromM, to_m: keeps.toM });
    for (const stretch of rest)
      await stores.rows.insert('line_section', {
        ...sameMake(old),
        from_m: stretch.fromM,
        to_m: stretch.toM,
        removed_on: stretch.removed ? day : null,
      });
  }
  await stores.rows.insert('line_section', {
    id: newId(),
    line_id: run.lineId,
    from_m: changes.added.fromM,
    to_m: changes.added.toM,
    material: run.material,
    bore_mm: run.boreMm,
    product: run.product,
    nominal: run.nominal,
    slope: run.slope,
    condition: 'sound',
    installed_on: day,
  });
  if (changes.whole || (await isAllNew(stores, run.lineId, day))) await openEpoch(stores, run.lineId, day);
  else
    await stores.rows.insert('regime_change', {
      id: newId(),
      line_id: run.lineId,
      changed_on: day,
      cause: 'partial_replacement',
      note: `${run.fromM} m to ${run.toM} m`,
    });
  await rederiveLines(stores, [run.lineId]);
}

/** Parts of one dig lie no further apart than this (common practice, no source). */
const ONE_DIG_DAYS = 45;

/** Whether the last part of a dig left nothing of the old line. */
async function isAllNew(stores: Stores, lineId: string, day: IsoDate): Promise<boolean> {
  const left = await stores.rows.all('line_section', [
    { column: 'line_id', is: '=', value: lineId },
    { column: 'removed_on', is: 'null' },
  ]);
  const since = addDays(day, -ONE_DIG_DAYS);
  return left.every((row) => row['installed_on'] !== null && String(row['installed_on']) >= since);
}

const sameMake = (old: Row): Row => {
  const { material, bore_mm, product, nominal, condition, slope, installed_on, assumed, line_id } = old;
  return {
    id: newId(),
    line_id,
    material,
    bore_mm,
    product,
    nominal,
    condition,
    slope,
    installed_on,
    assumed,
  };
};

async function openEpoch(stores: Stores, lineId: string, day: IsoDate): Promise<void> {
  const [same] = await stores.rows.all('epoch', [
    { column: 'line_id', is: '=', value: lineId },
    { column: 'started_on', is: '=', value: day },
  ]);
  if (same) await stores.rows.update('epoch', String(same['id']), { begins: 'clean', because: 'replaced' });
  else
    await stores.rows.insert('epoch', {
      id: newId(),
      line_id: lineId,
      started_on: day,
      begins: 'clean',
      because: 'replaced',
    });
}
