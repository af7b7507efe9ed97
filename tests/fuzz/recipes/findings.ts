import type { Recipe } from '../asks.js';
import { ago, DONE, multipart, newAttachment, newOrder, smallPdf } from '../works.js';
import { type Body, having, onId, without } from './shape.js';

const oneLine: Recipe = having(
  ({ place, chance, known }) => ({
    lineId: place.lineId,
    ...(chance.is(0.3) ? { crewId: undefined } : {}),
    observedAt: new Date(known.now.getTime() - chance.whole(1, 500_000) * 60_000).toISOString(),
  }),
  'pitId',
  'pitTest',
  'replacesId',
  'distance',
  'place',
  'workOrderId',
  'crewId',
  'deviceClockOffsetSeconds',
);

const READING = { method: 'camera', share: 0.3 };

/** What is found on site, and what apps bring in. */
export const FINDINGS: Record<string, Recipe> = {
  createInspection: async (ground, draft) => {
    const made = (await oneLine(ground, draft)) as { body: Body };
    const { plugged } = made.body;
    return {
      body: {
        ...without(made.body, 'plugged', 'reading'),
        ...(plugged ? { plugged } : { reading: READING }),
      },
    };
  },
  createClean: having(
    ({ place, chance, known }) => ({
      lineId: place.lineId,
      task: chance.of(['jet', 'hose_flush', 'cable']),
      cleanedAt: new Date(known.now.getTime() - chance.whole(1, 500_000) * 60_000).toISOString(),
    }),
    'pitId',
    'crewId',
    'workOrderId',
    'nozzleStopped',
    'flowProven',
  ),
  withdrawInspection: onId(async ({ door, place, chance, known }) =>
    door.make('inspections', {
      lineId: place.lineId,
      phase: 'no_cleaning',
      reading: READING,
      observedAt: new Date(known.now.getTime() - chance.whole(1, 900_000) * 60_000).toISOString(),
    }),
  ),
  withdrawClean: onId(async ({ door, place, chance, known }) =>
    door.make('cleans', {
      lineId: place.lineId,
      task: 'jet',
      cleanedAt: new Date(known.now.getTime() - chance.whole(1, 900_000) * 60_000).toISOString(),
    }),
  ),
  judgeReading: onId(async ({ door, t, chance, place, known }) => {
    const id = await door.make('inspections', {
      lineId: place.lineId,
      phase: 'no_cleaning',
      reading: READING,
      observedAt: new Date(known.now.getTime() - chance.whole(1, 900_000) * 60_000).toISOString(),
    });
    await t.house.transact({ name: 'fuzz' }, ({ rows }) =>
      rows.insert('reading_review', {
        inspection_id: id,
        line_id: place.lineId,
        weight: 0.2,
        suspicion: 'free_bore',
      }),
    );
    return id;
  }),
  addNote: having((ground) => ({ notedAt: ago(ground, 30) }), 'lineId', 'pitId', 'workOrderId'),
  recordAttachment: having(
    (ground) => ({ takenAt: ago(ground, 30) }),
    'lineId',
    'pitId',
    'workOrderId',
    'inspectionId',
  ),
  putAttachmentFile: async (ground) => ({
    path: { id: await newAttachment(ground) },
    raw: multipart(ground.chance.is(0.9) ? smallPdf(ground.chance.id()) : Buffer.from('no file of ours')),
  }),
  getAttachmentFile: async (ground) => {
    const id = await newAttachment(ground);
    const { type, bytes } = multipart(smallPdf(ground.chance.id()));
    await ground.door.send({
      method: 'PUT',
      url: `/v1/attachments/${id}/file`,
      headers: { authorization: `Bearer ${ground.door.keys.owner}`, 'content-type': type },
      payload: bytes,
    });
    return {
      path: { id },
      query: { copy: 'original' },
      headers: ground.chance.is(0.3)
        ? { range: ground.chance.of(['bytes=0-9', 'bytes=-5', 'bytes=99999-']) }
        : {},
    };
  },
  sync: async (ground) => {
    const order = await newOrder(ground);
    const start = {
      kind: 'start',
      id: ground.chance.id(),
      at: ago(ground, 40),
      workOrderId: order.id,
      cautionsSeen: true,
    };
    const note = {
      kind: 'note',
      id: ground.chance.id(),
      at: ago(ground, 20),
      siteId: ground.place.siteId,
      text: 'key under the pot',
    };
    return { body: { sentAt: ago(ground, 0), items: ground.chance.is(0.5) ? [start, note] : [note] } };
  },
  withdrawSyncItem: async (ground) => {
    const id = ground.chance.id();
    const finish = {
      kind: 'finish',
      id,
      at: ago(ground, 20),
      workOrderId: (await newOrder(ground)).id,
      ...DONE,
    };
    await ground.door.as('owner', 'POST', '/v1/sync', { sentAt: ago(ground, 0), items: [finish] });
    return { path: { id }, body: { because: 'sent by mistake' } };
  },
  settleConflict: async (ground, draft) => {
    const id = await ground.door.make('clients', { id: ground.chance.id(), name: 'Alder' });
    await ground.door.as('owner', 'POST', '/v1/clients', { id, name: 'Other content' });
    const { body: list } = await ground.door.as('owner', 'GET', `/v1/conflicts?resourceId=${id}`);
    return { path: { id: list.items?.[0]?.id ?? draft.path['id'] } };
  },
};
