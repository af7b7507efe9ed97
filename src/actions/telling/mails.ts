import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { Refused } from '../problems.js';
import { POST } from './postStore.js';
import { hashOf } from './sendMail.js';

const OVER = ['failed', 'uncertain'];

/** A person has looked at a mail that did not go out, or may not have, and wants it sent (again). */
export async function sendAgain(stores: Stores, id: string): Promise<Row> {
  const mail = await stores.rows.lock('mail', id);
  if (!mail) throw new Refused({ code: 'not-found', resource: 'mail', id });
  const state = String(mail['state']);
  if (!OVER.includes(state))
    throw new Refused({
      code: 'wrong-state',
      resource: 'mail',
      id,
      state,
      allowed: OVER,
      detail: 'Only a mail that failed, or may have, is sent again.',
    });
  const again = { state: 'waiting', next_try_at: new Date().toISOString(), tries: 0 };
  await stores.post.wake('mail', [id], 0);
  return (await stores.rows.update('mail', id, again)) ?? mail;
}

/** Whether a token is one of a mail of ours. */
export const isUnsubscribeToken = async (house: House, token: string): Promise<boolean> =>
  (await house.stores.post.contactOfLink(hashOf(token))) !== null;

/** The reader of a mail wants no more of them; false: no such link. */
export const unsubscribe = (house: House, token: string): Promise<boolean> =>
  house.transact(POST, async (stores) => {
    const contactId = await stores.post.contactOfLink(hashOf(token));
    if (contactId === null) return false;
    await stores.rows.update('contact', contactId, { no_mail: true });
    return true;
  });
