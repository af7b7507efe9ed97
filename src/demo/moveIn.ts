import { v7 as newId } from 'uuid';
import type { House, Stores } from '../actions/house.js';
import type { Row } from '../actions/ports.js';
import { endsAsking } from '../actions/workLife/dischargePlans.js';
import { bringVisits } from './bringVisits.js';
import type { DemoBusiness } from './demoBusiness.js';
import { DEMO_TANKS } from './demoCrews.js';
import type { DemoExtras } from './demoExtras.js';

/** Puts what the demo knows beyond its file set into the house: people, hours, care terms, decisions, a season, work done, a dig. */
export async function moveIn(
  house: House,
  { extras, visits }: Pick<DemoBusiness, 'extras' | 'visits'>,
): Promise<void> {
  await house.transact({ name: 'demo' }, async (stores) => {
    const idsOf = async (table: string, key = 'external_ref') =>
      new Map((await stores.rows.all(table, [])).map((row) => [String(row[key]), String(row['id'])]));
    const [sites, lines, crews, depots] = [
      await idsOf('site'),
      await idsOf('line'),
      await idsOf('crew'),
      await idsOf('depot', 'name'),
    ];
    const known = (ids: Map<string, string>, ref: string): string => {
      const id = ids.get(ref);
      if (!id) throw new RangeError(`the demo names ${ref}, which its file set does not have`);
      return id;
    };
    const lineIds = (refs: readonly string[]) => refs.map((ref) => known(lines, ref));
    for (const each of extras.contacts) {
      await stores.rows.insert('contact', {
        id: newId(),
        site_id: known(sites, each.siteId),
        name: each.name,
        role: each.role,
        phone: each.phone,
        email: each.email,
        language: each.language,
        may_consent_to: each.mayConsentTo,
        opt_out: each.optOut,
      });
    }
    for (const { siteId, hours } of extras.hours)
      await stores.rows.update('site', known(sites, siteId), { hours: JSON.stringify(hours) });
    for (const each of extras.careTerms) {
      await stores.rows.insert('care_terms', {
        id: newId(),
        site_id: known(sites, each.siteId),
        line_ids: lineIds(each.lineIds),
        interval_days: each.intervalDays,
        visits_per_year: each.visitsPerYear,
        price_minor: each.priceMinor,
        early_visits_per_year: each.earlyVisitsPerYear,
        early_price_cap_minor: each.earlyPriceCapMinor,
        from_day: each.fromDay,
        to_day: each.toDay,
      });
    }
    for (const each of extras.accessPoints) {
      const siteId = known(sites, each.siteId);
      const lineId = each.lineId === null ? null : known(lines, each.lineId);
      await stores.rows.insert('access_point', {
        id: newId(),
        site_id: siteId,
        line_id: lineId,
        kind: each.kind,
        place: each.place,
        distance_m: each.distanceM,
        distance_from: each.distanceFrom,
        kit_can_enter: each.kitCanEnter,
        direction: each.direction,
        note: each.note,
      });
    }
    for (const each of extras.decisions) {
      await stores.rows.insert('decision', {
        id: newId(),
        site_id: known(sites, each.siteId),
        line_ids: lineIds(each.lineIds),
        task: each.task,
        kind: each.kind,
        decided_by: each.decidedBy,
        decided_on: each.decidedOn,
        risk_told: each.riskTold,
        until_day: each.untilDay,
      });
    }
    for (const each of extras.members) {
      const member = newId();
      await stores.rows.insert('member', {
        id: member,
        name: each.name,
        phone: each.phone,
        email: each.email,
      });
      await stores.rows.insert('crew_membership', {
        id: newId(),
        crew_id: known(crews, each.crewId),
        member_id: member,
        from_day: each.fromDay,
      });
    }
    for (const shift of await stores.rows.all('shift', []))
      await stores.rows.update('shift', String(shift['id']), { break_after: '11:30', break_minutes: 30 });
    const { depot, tasks, fromDay, toDay, reason } = extras.closedSeason;
    await stores.rows.insert('closed_season', {
      id: newId(),
      depot_id: known(depots, depot),
      tasks,
      from_day: fromDay,
      to_day: toDay,
      reason,
    });
    // Most outlets to a ditch, creek or storm sewer have their leave on file; the others' visits wait for a plan.
    const asking = endsAsking(await stores.rows.all('line', [], 'external_ref'));
    for (const [i, line] of (asking?.decide ?? []).entries())
      if (i % 8 !== 0)
        await stores.rows.update('line', String(line['id']), { discharge_permit_ref: `WR-${1000 + i}` });
    const kit = await idsOf('kit_item');
    for (const { crewId, kind, waterL, wasteL, jets } of DEMO_TANKS)
      await stores.rows.update('kit_item', known(kit, `${crewId}:${kind}`), {
        tank_l: waterL,
        waste_l: wasteL,
        ...(jets ? { pressure_kpa: jets.pressureKpa, flow_lps: jets.flowLps, reach_m: jets.hoseM } : {}),
      });
    await bringVisits(house, stores, visits, { site: sites, line: lines, crew: crews });
    await fitPumps(stores);
    await orderDig(
      stores.rows.insert,
      extras.dig,
      known(sites, extras.dig.siteId),
      known(lines, extras.dig.lineId),
    );
  });
}

/** What a third of a horsepower lifts: L/s at m of head. Invented, of the usual shape. */
const DEMO_CURVE = [
  { flowLps: 0, headM: 6.4 },
  { flowLps: 1, headM: 5.5 },
  { flowLps: 2, headM: 3.9 },
  { flowLps: 2.8, headM: 1.8 },
];
const DEMO_LIFT_M = 2.6;

/** Every third pit whose discharge is measured has had its pump looked at; of the others nobody wrote it down. */
async function fitPumps(stores: Stores): Promise<void> {
  const lines = new Map((await stores.rows.all('line', [])).map((row) => [row['id'], row]));
  const measured = (await stores.rows.all('pit', [])).filter((pit) => {
    const line = lines.get(pit['discharge_line_id']);
    return line && line['length_m'] !== null && line['main_bore_mm'] !== null;
  });
  for (const pit of measured.filter((_, i) => i % 3 === 0)) {
    await stores.rows.update('line', String(pit['discharge_line_id']), { lift_m: DEMO_LIFT_M });
    await stores.rows.insert('pump', {
      id: newId(),
      pit_id: pit['id'],
      power_w: 250,
      curve: JSON.stringify(DEMO_CURVE),
      check_valve: true,
      alarm: false,
    });
  }
}

/** A dig that waits for its locate ticket: ordered, not placed. */
async function orderDig(
  insert: (table: string, row: Row) => Promise<Row>,
  dig: DemoExtras['dig'],
  siteId: string,
  lineId: string,
): Promise<void> {
  const id = newId();
  await insert('work_order', {
    id,
    site_id: siteId,
    cause: 'plugged',
    wanted_by: dig.validTo,
    kit: ['excavator'],
    people: 2,
    minutes: 360,
    price_basis: 'quote',
    because_of: JSON.stringify([
      {
        code: 'plugged',
        facts: { lineId },
        text: 'Plugged by deposit and not opened by the jet: traced, to be dug up and replaced.',
      },
    ]),
  });
  await insert('work_order_task', {
    id: newId(),
    work_order_id: id,
    position: 1,
    kind: 'dig_and_replace',
    line_id: lineId,
    minutes: 340,
  });
  await insert('precondition', {
    id: newId(),
    work_order_id: id,
    kind: dig.precondition,
    facts: dig.facts,
    valid_from: dig.validFrom,
    valid_to: dig.validTo,
  });
}
