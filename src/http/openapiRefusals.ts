import { ROLES } from '../domain/words.js';
import type { Allowed } from './keyCheck.js';
import { takesKey } from './openapiHeaders.js';

interface Operation {
  parameters?: { in?: string }[];
  responses?: Record<string, unknown>;
}

/**
 * Says of a route what the check of keys refuses: nobody is asked for a key where everybody may call, and only a role
 * that is left out is refused, beside what the route itself refuses (403 among its own).
 */
export function tellKeyRefusals(answers: unknown, roles: Allowed | undefined): void {
  const told = (answers ?? {}) as Record<string, unknown>;
  if (!('401' in told)) return;
  if (roles === 'public') delete told['401'];
  else if (ROLES.some((role) => !roles?.includes(role))) told['403'] = told['401'];
}

/**
 * Says of each operation what the door refuses whatever it does: what has no parameter and takes no body cannot be asked
 * wrongly, only an address with a part to fill in can lead nowhere, only what takes a body can be sent a wrong one, only
 * what takes an Idempotency-Key can be sent one twice.
 */
export function withDoorRefusals<D extends { paths?: object | undefined }>(document: D): D {
  for (const [path, item] of Object.entries(document.paths ?? {}))
    for (const [method, operation] of Object.entries(item as Record<string, Operation>))
      tell(path, method, operation);
  return document;
}

function tell(path: string, method: string, { parameters = [], responses = {} }: Operation): void {
  const { '400': problem } = responses;
  if (!problem) return;
  const takesBody = method !== 'get';
  if (path.includes('{')) responses['404'] ??= problem;
  if (takesBody) for (const status of ['413', '415']) responses[status] ??= problem;
  if (!takesBody && parameters.length === 0) delete responses['400'];
  if (takesKey(path, method)) responses['422'] ??= problem;
}
