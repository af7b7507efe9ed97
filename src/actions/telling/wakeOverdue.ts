import type { House } from '../house.js';
import { POST } from './postStore.js';
import { tellNotSent } from './sendMail.js';

/** After so long what still waits has lost its job. */
const LOST_AFTER_SECONDS = 30;

/**
 * Wakes what waits and was not woken: its job went with a killed worker, or was in no backup. Mails left in the middle
 * of a conversation are uncertain, and said to be.
 *
 * @param mailOn Whether there is a mail server; without one mails wait for it.
 */
export async function wakeOverdue(
  house: House,
  mailOn = true,
): Promise<{ events: number; deliveries: number; mails: number; uncertain: number }> {
  return house.transact(POST, async (stores) => {
    const { events, deliveries, ...waiting } = await stores.post.overdue(LOST_AFTER_SECONDS);
    const mails = mailOn ? waiting.mails : [];
    if (events > 0) await stores.jobs.add('post', {}, 'post:overdue');
    await stores.post.wake('webhook', deliveries, 0);
    await stores.post.wake('mail', mails, 0);
    const lost = await stores.post.markLostMails();
    for (const mail of lost) await tellNotSent(stores, mail, String(mail['last_error']), true);
    return { events, deliveries: deliveries.length, mails: mails.length, uncertain: lost.length };
  });
}
