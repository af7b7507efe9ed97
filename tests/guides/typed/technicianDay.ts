import { at, must, type Openbore, type Schemas } from './client.js';

// A technician's working day, call by call. An app may send everything by sync; here the first visit goes by single
// calls, so that both roads are seen.

export type Stop = Schemas['Stop'] & {
  workOrder: NonNullable<Schemas['Stop']['workOrder']>;
  site: NonNullable<Schemas['Stop']['site']>;
};

const ENDED = {
  result: 'done',
  flowProven: 'yes',
  water: { receiver: 'caught', sludgeTo: 'depot' },
  pumpRestored: { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true },
} as const;

/** A place in the list of changes, taken before the first full read. */
export const placeInChanges = async (phone: Openbore) => must(await phone.GET('/v1/changes', {})).next;

/** The own route of a day, complete: kept on the phone for where there is no reach. */
export async function readTheDay(phone: Openbore, day: string) {
  const [route] = must(await phone.GET('/v1/routes', { params: { query: { day } } })).items;
  if (!route) throw new Error('no route on that day');
  const stops = route.stops.filter((stop): stop is Stop => stop.workOrder !== null && stop.site !== null);
  return { route, stops };
}

/** What is different from what was told, and all that changed since the last look. */
export async function whatChanged(phone: Openbore, routeId: string, since: string) {
  const onRecord = must(await phone.GET('/v1/routes/{id}/changes', at({ id: routeId }))).items;
  const changes: Schemas['Change'][] = [];
  let place = since;
  for (let more = true; more; ) {
    const page = must(await phone.GET('/v1/changes', { params: { query: { since: place } } }));
    changes.push(...page.items);
    ({ next: place, more } = page);
  }
  return { onRecord, changes, place };
}

/** One tap when the crew leaves: who waits there is told once. */
export const onTheWay = async (phone: Openbore, { workOrder }: Stop, leftAt: string) =>
  must(
    await phone.POST('/v1/work-orders/{id}/on-the-way', { ...at({ id: workOrder.id }), body: { leftAt } }),
  );

/** A visit with reach: start, one tap for what nobody measures, a photograph, work found there, finish. */
export async function visitInReach(
  phone: Openbore,
  { workOrder, site }: Stop,
  day: string,
  photograph: Blob,
) {
  const path = at({ id: workOrder.id });
  const lineId = lineOf(workOrder);
  must(
    await phone.POST('/v1/work-orders/{id}/start', {
      ...path,
      body: { startedAt: `${day}T12:50:00Z`, cautionsSeen: true },
    }),
  );
  // The buttons to show, and the field that takes the answer.
  const taps = workOrder.tasks.flatMap(({ oneTaps }) => oneTaps);
  const howFull = taps.find(({ field }) => field === 'inspection.reading.word');
  const look = must(
    await phone.POST('/v1/inspections', {
      body: {
        workOrderId: workOrder.id,
        lineId,
        observedAt: `${day}T12:55:00Z`,
        phase: 'before_cleaning',
        reading: { method: 'by_word', word: 'half', cameBack: 'slugs' },
      },
    }),
  );
  await attach(
    phone,
    photograph,
    { workOrderId: workOrder.id, siteId: site.id, lineId, inspectionId: look.id },
    day,
  );
  must(
    await phone.POST('/v1/cleans', {
      body: {
        workOrderId: workOrder.id,
        lineId,
        cleanedAt: `${day}T13:20:00Z`,
        task: 'jet',
        passes: 2,
        flowProven: 'yes',
      },
    }),
  );
  // The outlet is half buried: more work, with a price that the client takes at the door.
  const found = must(
    await phone.POST('/v1/work-orders/{id}/found-work', {
      ...path,
      body: {
        foundAt: `${day}T13:25:00Z`,
        tasks: [{ kind: 'clear_outlet', lineId, priceMinor: 9500 }],
        accepted: { by: 'Rowan Reed', at: `${day}T13:27:00Z` },
      },
    }),
  );
  if (workOrder.question)
    must(
      await phone.POST('/v1/work-orders/{id}/answer', {
        ...path,
        // One field, named as the fact; here the crew has looked and cannot tell.
        body: workOrder.question.fact === 'staysWet' ? { staysWet: true } : { notKnown: true },
      }),
    );
  const done = must(
    await phone.POST('/v1/work-orders/{id}/finish', {
      ...path,
      body: { ...ENDED, endedAt: `${day}T13:50:00Z` },
    }),
  );
  return { howFull, look, found, done };
}

/** First what it shows, then its bytes as a form; what it is, is told by its content. */
async function attach(
  phone: Openbore,
  photograph: Blob,
  shows: Pick<Schemas['NewAttachment'], 'workOrderId' | 'siteId' | 'lineId' | 'inspectionId'>,
  day: string,
) {
  const { id } = must(
    await phone.POST('/v1/attachments', {
      body: { ...shows, takenAt: `${day}T12:56:00Z`, caption: 'gel at the outlet', forClient: true },
    }),
  );
  const form = new FormData();
  form.set('file', photograph);
  const { file } = must(
    await phone.PUT('/v1/attachments/{id}/file', {
      ...at({ id }),
      // The generated type names the one field; the form goes out as it is.
      body: form as unknown as Schemas['FileUpload'],
      bodySerializer: (body) => body,
    }),
  );
  return file;
}

/** Where water rises: the pump is freed, and all that "done" asks for is answered. */
export async function helpInNeed(phone: Openbore, { workOrder }: Stop, day: string) {
  const path = at({ id: workOrder.id });
  must(
    await phone.POST('/v1/work-orders/{id}/start', {
      ...path,
      body: { startedAt: `${day}T14:55:00Z`, cautionsSeen: true },
    }),
  );
  return must(
    await phone.POST('/v1/work-orders/{id}/finish', {
      ...path,
      body: { ...ENDED, endedAt: `${day}T15:25:00Z`, note: 'float hung on its cable, freed' },
    }),
  );
}

/** A visit without reach, sent in two parcels when there is reach again: the end first, what it waits for later. */
export async function visitOutOfReach(
  phone: Openbore,
  { workOrder, site }: Stop,
  day: string,
  newId: () => string,
  meanwhile: () => void,
) {
  const order = { workOrderId: workOrder.id };
  const lineId = lineOf(workOrder);
  const taskId = workOrder.tasks.find((task) => task.kind === 'jet')?.id ?? workOrder.tasks[0]?.id ?? '';
  const id = {
    way: newId(),
    start: newId(),
    look: newId(),
    clean: newId(),
    task: newId(),
    note: newId(),
    water: newId(),
    mishap: newId(),
    trench: newId(),
    found: newId(),
    price: newId(),
    ...(workOrder.question ? { answer: newId() } : {}),
  };
  const foundTaskId = newId();
  const early: Schemas['SyncItem'][] = [
    {
      kind: 'finish',
      id: newId(),
      at: `${day}T14:45:00Z`,
      ...order,
      after: Object.values(id),
      ...ENDED,
    },
    { kind: 'clean', id: id.clean, at: `${day}T14:30:00Z`, ...order, lineId, task: 'jet', flowProven: 'yes' },
    { kind: 'start', id: id.start, at: `${day}T14:05:00Z`, ...order, cautionsSeen: true },
    { kind: 'on_the_way', id: id.way, at: `${day}T14:01:00Z`, ...order },
  ];
  const late: Schemas['SyncItem'][] = [
    {
      kind: 'inspection',
      id: id.look,
      at: `${day}T14:10:00Z`,
      ...order,
      lineId,
      phase: 'before_cleaning',
      reading: { method: 'by_word', word: 'light' },
    },
    { kind: 'task_result', id: id.task, at: `${day}T14:38:00Z`, ...order, taskId, result: 'done' },
    {
      kind: 'note',
      id: id.note,
      at: `${day}T14:40:00Z`,
      ...order,
      siteId: site.id,
      text: 'key under the third pot',
    },
    {
      kind: 'discharge_plan',
      id: id.water,
      at: `${day}T14:04:00Z`,
      ...order,
      receiver: 'caught',
      sludgeTo: 'depot',
    },
    {
      kind: 'incident',
      id: id.mishap,
      at: `${day}T14:32:00Z`,
      ...order,
      siteId: site.id,
      incident: 'near_miss',
      what: 'hose whipped, nobody hurt',
    },
    {
      kind: 'trench_check',
      id: id.trench,
      at: `${day}T14:12:00Z`,
      ...order,
      checkedBy: 'Tern',
      protection: 'none',
    },
    // Work found there, whose price the client does not take: it is on record as not done.
    {
      kind: 'price_acceptance',
      id: id.price,
      at: `${day}T14:34:00Z`,
      ...order,
      taskId: foundTaskId,
      by: 'Rowan Reed',
      amountMinor: 9500,
      declined: true,
    },
    {
      kind: 'found_work',
      id: id.found,
      at: `${day}T14:33:00Z`,
      ...order,
      tasks: [{ id: foundTaskId, kind: 'clear_outlet', lineId, priceMinor: 9500 }],
    },
    // Looked, and could not tell; else one field, named as the fact.
    ...(id.answer
      ? [{ kind: 'answer', id: id.answer, at: `${day}T14:35:00Z`, ...order, notKnown: true } as const]
      : []),
  ];
  const first = await sync(phone, early, `${day}T16:00:00Z`);
  meanwhile();
  // Sent again with the rest: what was done stays done.
  const second = await sync(phone, [...late, ...early], `${day}T16:05:00Z`);
  return { first, second, taskId, foundTaskId };
}

/** The colleague says otherwise of the same task, from another phone whose clock is an hour ahead. */
export async function saidOtherwise(
  phone: Openbore,
  { workOrder }: Stop,
  taskId: string,
  day: string,
  newId: () => string,
) {
  const result: Schemas['SyncItem'] = {
    kind: 'task_result',
    id: newId(),
    at: `${day}T15:35:00Z`,
    workOrderId: workOrder.id,
    taskId,
    result: 'partly',
  };
  return sync(phone, [result], `${day}T17:10:00Z`);
}

/** Nobody is home: a start, and an end with its reason. */
export async function nobodyHome(phone: Openbore, { workOrder }: Stop, day: string, newId: () => string) {
  const order = { workOrderId: workOrder.id };
  const start = newId();
  return sync(
    phone,
    [
      { kind: 'start', id: start, at: `${day}T16:30:00Z`, ...order, cautionsSeen: true },
      {
        kind: 'finish',
        id: newId(),
        at: `${day}T16:40:00Z`,
        ...order,
        after: [start],
        result: 'not_done',
        reason: 'no_one_home',
        note: 'rang twice, card left',
      },
    ],
    `${day}T16:45:00Z`,
  );
}

async function sync(phone: Openbore, items: Schemas['SyncItem'][], sentAt: string) {
  const answer = must(await phone.POST('/v1/sync', { body: { sentAt, items } }));
  return {
    clock: answer.clock,
    outcomes: answer.items.map(({ kind, outcome, waitsFor, problem }) => ({
      kind,
      outcome,
      waitsFor,
      problem,
    })),
  };
}

function lineOf({ tasks }: Stop['workOrder']): string {
  const line = tasks.find(({ kind, lineId }) => kind === 'jet' && lineId !== null)?.lineId;
  if (!line) throw new Error('a visit without a line to jet');
  return line;
}
