import type { Draft, Ground, Recipe } from '../asks.js';
import { dayFrom } from '../values.js';

export type Body = Record<string, unknown>;

export const body = (draft: Draft): Body => (draft.body ?? {}) as Body;

export const without = (from: Body, ...names: string[]): Body =>
  Object.fromEntries(Object.entries(from).filter(([name]) => !names.includes(name)));

/** The body with these fields, and without those. */
export const having =
  (fields: (ground: Ground, old: Body) => Body | Promise<Body>, ...left: string[]): Recipe =>
  async (ground, draft) => ({
    body: { ...without(body(draft), ...left), ...(await fields(ground, body(draft))) },
  });

/** On an order of its own, made as the work asks for. */
export const onOrder =
  (
    make: (ground: Ground) => Promise<{ id: string }>,
    fields?: (ground: Ground, old: Body) => Body,
    ...left: string[]
  ): Recipe =>
  async (ground, draft) => ({
    path: { ...draft.path, id: (await make(ground)).id },
    ...(fields ? { body: { ...without(body(draft), ...left), ...fields(ground, body(draft)) } } : {}),
  });

export const onId =
  (make: (ground: Ground) => Promise<string | undefined>): Recipe =>
  async (ground, draft) => ({ path: { ...draft.path, id: (await make(ground)) ?? draft.path['id'] ?? '' } });

/** A change of a plain record: from the version that is there. */
export const changeOf =
  (list: string): Recipe =>
  async ({ door }, draft) => {
    const read = await door.as('owner', 'GET', `/v1/${list}/${draft.path['id']}`);
    return { headers: { 'if-match': String(read.headers['etag'] ?? '"1"') } };
  };

/** A change that leaves out what ties a record to others. */
export const changeWithout =
  (list: string, ...left: string[]): Recipe =>
  async (ground, draft) => ({
    ...(await changeOf(list)(ground, draft)),
    body: without(body(draft), ...left),
  });

/** A change of a record made for it. */
export const changeOfNew =
  (
    list: string,
    make: (ground: Ground) => Promise<string>,
    fields: (old: Body) => Body,
    ...left: string[]
  ): Recipe =>
  async (ground, draft) => {
    const id = await make(ground);
    const path = { ...draft.path, id };
    return {
      path,
      ...(await changeOf(list)(ground, { ...draft, path })),
      body: { ...without(body(draft), ...left), ...fields(body(draft)) },
    };
  };

export const asItIs = async (ground: Ground, url: string): Promise<string> =>
  String((await ground.door.as('owner', 'GET', url)).headers['etag'] ?? '"0"');

/** A day of the coming weeks on which crews work. */
export const soon = ({ known, chance }: Ground): string =>
  dayFrom(known.now, 7 * chance.whole(0, 2) + chance.of([1, 4, 5, 6]));

/** A day of the coming months on which crews work. */
export const weekday = ({ known, chance }: Ground): string =>
  dayFrom(known.now, 7 * chance.whole(1, 50) + chance.whole(-1, 1));
