import { createHash, randomUUID } from 'node:crypto';
import { type ReportedLines, reportedLines } from './reportedLines.js';

/** A house in which a client, a house of the client's with a line that was read, and photographs are put on record. */
export interface PeopleOnBooks extends ReportedLines {
  add(table: string, row: object): Promise<string>;
  get(table: string, id: string): Promise<Record<string, unknown>>;
  post(path: string, payload: object, headers?: Record<string, string>): ReturnType<ReportedLines['call']>;
  clientOf(
    name: string,
    phone?: string | null,
    email?: string | null,
  ): Promise<{ siteId: string; lineId: string; inspectionId: string; clientId: string; ownedId: string }>;
  photograph(siteId: string, more?: object): Promise<{ id: string; key: string }>;
}

export async function peopleOnBooks(): Promise<PeopleOnBooks> {
  const t = await reportedLines();
  const { rows } = t.house.stores;
  const add = async (table: string, row: object): Promise<string> => {
    const id = randomUUID();
    await rows.insert(table, { id, ...row });
    return id;
  };
  return {
    ...t,
    add,
    get: async (table, id) => (await rows.get(table, id)) ?? {},
    post: (path, payload, headers = {}) =>
      t.call('owner', { method: 'POST', url: `/v1/erasures${path}`, payload, headers }),
    async clientOf(name, phone = null, email = null) {
      const siteId = await t.site({ address: `${name.length} Marsh Bank` });
      const lineId = await t.line(siteId);
      const inspectionId = await t.read(lineId, '2026-03-01', 0.3, { note: `${name} held the torch` });
      const clientId = await add('client', { name, phone, email });
      const ownedId = await add('site_client', {
        site_id: siteId,
        client_id: clientId,
        from_day: '2025-01-01',
      });
      return { siteId, lineId, inspectionId, clientId, ownedId };
    },
    async photograph(siteId, more = {}) {
      const id = await add('attachment', {
        site_id: siteId,
        taken_at: '2026-04-01T12:00:00Z',
        author: 'Tern',
        author_id: randomUUID(),
        ...more,
      });
      const key = `${id}/0a-original`;
      await t.house.files?.store.put(Buffer.from('picture'), key);
      await rows.insert('stored_file', {
        id,
        kind: 'photograph',
        media_type: 'image/jpeg',
        bytes: 7,
        sha256: createHash('sha256').update(id).digest(),
        original_key: key,
        author: 'Tern',
        author_id: randomUUID(),
      });
      return { id, key };
    },
  };
}
