import fc from 'fast-check';
import { beforeAll, expect, test } from 'vitest';
import { type PeopleOnBooks, peopleOnBooks } from '../setup/peopleOnBooks.js';

let t: PeopleOnBooks;

beforeAll(async () => {
  t = await peopleOnBooks();
}, 60_000);

/** Every row of every table but those that an erasure writes of itself, by table and id. */
async function everyRow(): Promise<Map<string, string>> {
  const { rows: tables } = await t.pool.query(
    `SELECT c.relname AS name FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
      WHERE n.nspname = 'public' AND c.relkind = 'r' AND c.relname NOT IN ('_prisma_migrations', 'erasure', 'access_key') AND c.relname NOT LIKE 'change_log%'`,
  );
  const all = new Map<string, string>();
  for (const { name } of tables) {
    const { rows } = await t.pool.query(
      `SELECT to_jsonb(r)->>'id' AS id, r::text AS text FROM public."${name}" r`,
    );
    for (const [i, row] of rows.entries()) all.set(`${name} ${row.id ?? i}`, row.text);
  }
  return all;
}

/** A stranger's house whose records hold words that are also names. */
async function strangers(): Promise<void> {
  const stranger = await t.clientOf('Ann Underhill', '555 010 2200', 'ann@example.org');
  await t.house.stores.rows.update('site', stranger.siteId, {
    town: 'Quern Hill',
    area: 'Mill Foot',
    access_notes:
      'key under the mat; Key code 4711; up the hill past Hill Farm, ring Anne Marie, in the nick of time; the Heron nests; 555 0133',
  });
  await t.crew('Heron');
  await t.add('rain', { ended_at: '2026-01-01T00:00:00Z', author: 'Heron', area: 'Hill and Mill' });
  await t.pool.query(`UPDATE trend SET due_reasons = $1`, [
    JSON.stringify([{ code: 'risk', text: 'Chance of a plug, Hill, Heron, Key, Mill' }]),
  ]);
}

test('a name of one word away from the person’s houses is told, never written over', async () => {
  await strangers();
  for (const name of ['Hill', 'Key', 'Heron', 'Mill', 'Chance', 'Nick', 'Anne-Marie', 'Pit', 'Quern Hill']) {
    const own = await t.clientOf(name, '555 0133');
    await t.house.stores.rows.update('site', own.siteId, { access_notes: `ask ${name} first` });
    const before = await everyRow();
    const done = await t.post('', { person: 'client', personId: own.clientId });
    expect(done.status, done.text).toBe(201);
    const changed = [...(await everyRow())].filter(([key, text]) => before.get(key) !== text);
    const mine = [own.clientId, own.siteId, own.inspectionId, own.ownedId];
    expect(
      changed.filter(([key]) => !mine.includes(key.split(' ')[1] ?? '')),
      name,
    ).toEqual([]);
    expect((await t.get('client', own.clientId))['name']).toBe('[erased]');
    const notes = String((await t.get('site', own.siteId))['access_notes']);
    if (name === 'Pit') expect(done.body.toLookAt.map(({ id }: { id: string }) => id)).toContain(own.siteId);
    else expect(notes, name).toBe('ask [erased] first');
    const told = done.body.toLookAt.map(({ resource }: { resource: string }) => resource);
    expect(told).not.toContain('trend');
    expect(told).not.toContain('crew');
    if (name === 'Hill' || name === 'Key')
      expect(done.body.toLookAt.map((each: { field: string }) => each.field)).toContain('access_notes');
  }
}, 240_000);

test('strangers’ rows stay byte for byte, the person’s own hold nothing, whatever the name', async () => {
  const part = fc
    .tuple(
      fc.constantFrom('Zó', 'Brá', "O'", 'Mc', 'Ło', 'Sø', 'Weiß', 'Qua', 'Юл', 'Tre', 'D’'),
      fc.constantFrom('vela', 'rimp', 'мир', 'ström', 'ssel', 'ndy', 'quist', 'ørg'),
      fc.constantFrom('', '', '-Hale', '-Ößby', '’t', 'son'),
    )
    .map((parts) => parts.join(''));
  const trade = fc.constantFrom('Key', 'Hill', 'Cable', 'Camera', 'Drain', 'Mill', 'Heron', 'Pump', 'Marsh');
  const name = fc.oneof(
    part,
    trade,
    fc.tuple(part, part).map((parts) => parts.join(' ')),
    fc.tuple(part, trade, part).map((parts) => parts.join(' ')),
    fc.tuple(trade, part).map(([first, last]) => `${last}, ${first}`),
    fc
      .tuple(part, fc.constantFrom('(b. 1950)', '[Jr.]', '+ Co.', 'a*b?', '\\d', '^$|'))
      .map((p) => p.join(' ')),
  );
  const names = fc.sample(fc.uniqueArray(name, { minLength: 24, maxLength: 24 }), {
    seed: 41,
    numRuns: 1,
  })[0];
  for (const who of names ?? []) {
    const own = await t.clientOf(who, null, `${who.replace(/[^a-z]/gi, '')}@my-house.example`);
    await t.house.stores.rows.update('site', own.siteId, {
      access_notes: `(${who}) has the code, ask ${who}.`,
    });
    const before = await everyRow();
    const done = await t.post('', { person: 'client', personId: own.clientId });
    expect(done.status, `${who}: ${done.text}`).toBe(201);
    const after = await everyRow();
    const mine = new Set([own.clientId, own.siteId, own.inspectionId, own.ownedId]);
    for (const [key, text] of before)
      if (!mine.has(key.split(' ')[1] ?? '')) expect(after.get(key), `${who}: ${key}`).toBe(text);
    const told = new Set(done.body.toLookAt.map(({ id }: { id: string }) => id));
    for (const [key, text] of after)
      if (mine.has(key.split(' ')[1] ?? '') && !told.has(key.split(' ')[1] ?? ''))
        expect(text.normalize('NFC').includes(who.normalize('NFC')), `${who}: ${text}`).toBe(false);
  }
}, 400_000);
