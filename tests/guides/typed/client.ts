import createClient, { type Client } from 'openapi-fetch';
import type { components, paths } from 'openbore-api';

/** The service as a front end sees it: nothing but what `openapi.json` says. */
export type Openbore = Client<paths, 'application/json'>;
export const openbore = (baseUrl: string, key: string): Openbore =>
  createClient<paths, 'application/json'>({ baseUrl, headers: { authorization: `Bearer ${key}` } });

export type Schemas = components['schemas'];

/** The answer, or an error with the problem document in it. */
export function must<T>({ data, error }: { data?: T; error?: unknown }): NonNullable<T> {
  if (data === undefined || data === null) throw new Error(JSON.stringify(error));
  return data;
}

/** What is behind an id in the address. */
export const at = <const P extends Record<string, string>>(path: P) => ({ params: { path } });
