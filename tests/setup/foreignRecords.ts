import { randomUUID } from 'node:crypto';
import type { RoutedHouse } from './routedHouse.js';

/** A record on the site that is on no route of the technician, by the list it stands in. */
export async function foreignRecords(t: RoutedHouse): Promise<Record<string, string>> {
  const { rows } = t.house.stores;
  const { siteId, lineId, pitId } = t.foreign;
  const add = async (table: string, row: object) => {
    const id = randomUUID();
    await rows.insert(table, { id, ...row });
    return id;
  };
  const task = await add('work_order_task', {
    work_order_id: t.foreignOrderId,
    position: 1,
    kind: 'jet',
    line_id: lineId,
    minutes: 30,
  });
  const [depot] = await rows.all('depot', []);
  const crew = await add('crew', { name: 'Plover', depot_id: depot?.['id'], people: 2 });
  const [plan] = await rows.all('plan', []);
  const route = await add('route', {
    plan_id: plan?.['id'],
    crew_id: crew,
    day: '2026-10-01',
    state: 'live',
  });
  const finding = {
    line_id: lineId,
    author: 'Plover',
    received_at: '2026-09-30T15:00:00Z',
  };
  return {
    sites: siteId,
    lines: lineId,
    pits: pitId,
    'work-orders': t.foreignOrderId,
    'work-order-tasks': task,
    crews: crew,
    routes: route,
    contacts: await add('contact', { site_id: siteId, name: 'A. Reed', role: 'occupant' }),
    'access-points': await add('access_point', {
      site_id: siteId,
      line_id: lineId,
      kind: 'outlet',
      place: 'by the fence',
    }),
    inspections: await add('inspection', {
      ...finding,
      observed_at: '2026-09-30T15:00:00Z',
      phase: 'no_cleaning',
      raw: '{}',
      conversion_version: 1,
      plugged: true,
      plug_cause: 'deposit',
    }),
    systems: t.foreign.systemId,
    attachments: await add('attachment', {
      site_id: siteId,
      taken_at: '2026-09-30T15:00:00Z',
      author: 'Plover',
      author_id: t.memberId,
    }),
    'sync-items': await add('sync_item', {
      kind: 'note',
      author: 'Plover',
      author_id: randomUUID(),
      key_id: randomUUID(),
      roles: ['technician'],
      happened_at: '2026-09-30T15:00:00Z',
      clock_offset_s: 0,
      work_order_id: t.foreignOrderId,
      fingerprint: Buffer.from('00', 'hex'),
      content: '{"text":"by the fence"}',
      work: '{}',
    }),
    cleans: await add('clean', { ...finding, cleaned_at: '2026-09-30T15:00:00Z' }),
    notes: await add('note', {
      site_id: siteId,
      text: 'gate key under the heron',
      author: 'Plover',
      noted_at: '2026-09-30T15:00:00Z',
      author_id: t.memberId,
    }),
    'locate-tickets': await add('locate_ticket', {
      work_order_id: t.foreignOrderId,
      rule_id: await add('locate_rule', {
        name: 'test',
        notice: 2,
        notice_unit: 'hour',
        source: 'test',
      }),
      called_at: '2026-09-28T15:00:00Z',
      dig_from: '2026-09-30T15:00:00Z',
      first_day: '2026-09-30',
      author: 'Plover',
    }),
  };
}
