import { at, must, type Openbore, type Schemas } from './client.js';

// A dispatcher's working day, call by call, in the order in which it is lived.

/** The owner takes somebody on: a member, in a crew, with a key for the phone. */
export async function takeOn(owner: Openbore, name: string, crewName: string, fromDay: string) {
  const crews = must(await owner.GET('/v1/crews', { params: { query: { limit: 200 } } })).items;
  const crew = crews.find((each) => each.name === crewName);
  if (!crew) throw new Error(`no crew ${crewName}`);
  const member = must(await owner.POST('/v1/members', { body: { name } }));
  must(await owner.POST('/v1/crew-memberships', { body: { crewId: crew.id, memberId: member.id, fromDay } }));
  const { key } = must(
    await owner.POST('/v1/keys', { body: { name, roles: ['technician'], memberId: member.id } }),
  );
  if (key === null) throw new Error('the key was not shown');
  return key;
}

/** 2:00. The night learns from what was imported, makes the orders, plans the routes and tells the crews. */
export async function theNight(office: Openbore, businessDay: string, letItRun: () => Promise<void>) {
  const asked = must(await office.POST('/v1/nightly-runs', { body: { businessDay } }));
  await letItRun();
  const run = must(await office.GET('/v1/nightly-runs/{id}', at({ id: asked.id })));
  if (run.state !== 'done') throw new Error(`the night is ${run.state}: ${run.failedBecause}`);
  return Object.fromEntries(run.steps.map(({ name, counts }) => [name, counts]));
}

/** 7:00. The day per crew, the week, and work without a place with its reason. */
export async function theMorning(office: Openbore, day: string) {
  const book = must(await office.GET('/v1/days/{day}', at({ day })));
  const week = must(await office.GET('/v1/days', { params: { query: { days: 5 } } })).items;
  const unplaced = must(await office.GET('/v1/unplaced-work', {})).items;
  return { book, week, unplaced };
}

/** 7:10. A client phones for a visit: found by name, told the cheapest day, which is kept as a promise. */
export async function aClientPhones(office: Openbore, words: string) {
  const hits = must(await office.GET('/v1/search', { params: { query: { q: words } } })).items;
  const site = hits.find(({ type }) => type === 'site');
  if (!site) throw new Error(`nobody is called ${words}`);
  const lines = must(await office.GET('/v1/lines', { params: { query: { siteId: site.id } } })).items;
  const order = must(
    await office.POST('/v1/work-orders', {
      body: {
        siteId: site.id,
        because: 'the client wants it looked at before winter',
        tasks: lines.slice(0, 1).map(({ id }) => ({ kind: 'inspect' as const, lineId: id })),
      },
    }),
  );
  const offered = must(
    await office.GET('/v1/work-orders/{id}/days', {
      params: { path: { id: order.id }, query: { workingDays: 4 } },
    }),
  );
  const cheapest = offered.days.find(({ place }) => place?.extraMinor === 0);
  if (!cheapest?.place) throw new Error(`no day can be offered: ${offered.nowhere?.text}`);
  const { crewId, afterWorkOrderId, from, to } = cheapest.place;
  // Placed first: the client is told what is so.
  must(
    await office.POST('/v1/work-orders/{id}/placement', {
      params: { path: { id: order.id }, header: { 'If-Match': `"${offered.version}"` } },
      body: { crewId, day: cheapest.day, afterWorkOrderId },
    }),
  );
  const promise = must(
    await office.POST('/v1/promises', {
      body: {
        workOrderId: order.id,
        day: cheapest.day,
        fromTime: from,
        toTime: to,
        toldTo: words,
        toldHow: 'phone',
      },
    }),
  );
  return { offered: offered.days.map(({ day, text }) => ({ day, text })), promise };
}

/** 7:15. One of a crew stays at home: what takes two goes to others, and who was promised a time is phoned. */
export async function oneShort(office: Openbore, crewName: string, letSearch: () => Promise<void>) {
  const crews = must(await office.GET('/v1/crews', { params: { query: { limit: 200 } } })).items;
  const crew = crews.find(({ name }) => name === crewName);
  if (!crew) throw new Error(`no crew ${crewName}`);
  const reported = must(
    await office.POST('/v1/disruptions', {
      body: { kind: 'crew_short', crewId: crew.id, people: 1, note: 'flu', searchSeconds: 1 },
    }),
  );
  await letSearch();
  const path = at({ id: reported.plan.id });
  const plan = must(await office.GET('/v1/plans/{id}', path));
  if (plan.state !== 'proposed') throw new Error(`the plan is ${plan.state}: ${plan.failedBecause}`);
  must(await office.POST('/v1/plans/{id}/acceptance', path));
  return { because: plan.because, toPhone: plan.toPhone };
}

/** 9:00. Water rises in a house nobody knows: what to say, the order, and the crew that can be there in time. */
export async function waterRises(office: Openbore) {
  const beforeAnything = must(await office.GET('/v1/phone-sheets/{kind}', at({ kind: 'water_rising' })));
  const taken = must(
    await office.POST('/v1/calls', {
      body: {
        kind: 'water_rising',
        what: 'the pump hums and the pit runs over',
        caller: { name: 'A. Reed', phone: '555 0100' },
        newSite: {
          address: '9 Lantern Road',
          town: 'Brindle',
          latitude: 44.62,
          longitude: -90.31,
          basement: 'basement',
        },
        answers: { waterInHouse: 'yes', waterNearElectricity: 'no', pumpRuns: 'yes' },
      },
    }),
  );
  const path = { id: taken.workOrder.id };
  const { places, version, ...rest } = must(await office.GET('/v1/work-orders/{id}/places', at(path)));
  const [best] = places;
  if (!best) throw new Error(`nobody can go: ${JSON.stringify(rest)}`);
  const placed = must(
    await office.POST('/v1/work-orders/{id}/placement', {
      params: { path, header: { 'If-Match': `"${version}"` } },
      body: {
        crewId: best.crewId,
        day: best.day,
        afterWorkOrderId: best.afterWorkOrderId,
        displaces: best.displaces.map(({ workOrderId }) => workOrderId),
      },
    }),
  );
  return { sayFirst: beforeAnything.sayFirst[0]?.text, taken, best, toPhone: placed.toPhone };
}

/** Crews are told of the day as it stands now. */
export const publish = async (office: Openbore, day: string) =>
  must(await office.POST('/v1/days/{day}/publication', at({ day }))).published;

/** 16:50. What went wrong today, and who must be told of it by when. */
export const incidentsOf = async (office: Openbore) => must(await office.GET('/v1/incidents', {})).items;

/** 17:00. What two people said otherwise: looked at, and settled. */
export async function settleConflicts(office: Openbore) {
  const { items } = must(await office.GET('/v1/conflicts', {}));
  const settled: Schemas['Conflict'][] = [];
  for (const { id } of items)
    settled.push(must(await office.POST('/v1/conflicts/{id}/settlement', at({ id }))));
  return settled;
}

/** 17:10. The day is closed: what was not done, why, what happens to it, whom to phone. */
export const closeTheDay = async (office: Openbore, day: string) =>
  must(await office.POST('/v1/days/{day}/closing', { ...at({ day }), body: { restBecause: 'out_of_time' } }))
    .items;

/** The day's papers: each crew's sheet, and the report of a visit for its client. */
export async function papers(office: Openbore, routeId: string, workOrderId: string) {
  const asPdf = { headers: { accept: 'application/pdf' }, parseAs: 'arrayBuffer' } as const;
  const sheet = must(await office.GET('/v1/routes/{id}/sheet', { ...at({ id: routeId }), ...asPdf }));
  const report = must(
    await office.GET('/v1/work-orders/{id}/report', { ...at({ id: workOrderId }), ...asPdf }),
  );
  return { sheet, report };
}
