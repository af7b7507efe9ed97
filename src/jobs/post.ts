import type { Logger } from 'pino';
import type { House } from '../actions/house.js';
import type { Outgoing } from '../actions/outgoing.js';
import { handOnEvents } from '../actions/telling/handOn.js';
import type { Mailer } from '../actions/telling/mailer.js';
import { mailOwner } from '../actions/telling/mailOwner.js';
import { sendMail } from '../actions/telling/sendMail.js';
import { sendWebhook } from '../actions/telling/sendWebhook.js';
import { wakeOverdue } from '../actions/telling/wakeOverdue.js';
import type { Jobs } from './worker.js';

export interface PostHouse {
  house: House;
  log: Logger;
  outgoing: Outgoing;
  /** Null: no mail server is set, and no mail is written. */
  mailer: Mailer | null;
}

/** The jobs that hand events on: `post` to all who want them, `webhook`, `mail` and `owner_mail` one each. */
export function postJobs({ house, log, outgoing, mailer }: PostHouse): Jobs {
  // What waits stays waiting: the watch wakes it once the base is said to be the real one.
  const unlessHeld = async (send: () => Promise<unknown>): Promise<void> => {
    if (!(await house.stores.post.isHeld())) await send();
  };
  return {
    post: () => unlessHeld(() => handOnEvents(house, mailer !== null)),
    webhook: ({ id }) =>
      unlessHeld(async () => {
        const because = await sendWebhook(house, outgoing, String(id));
        if (because !== null) log.warn({ delivery: id, because }, 'a webhook was not called');
      }),
    mail: ({ id }) =>
      unlessHeld(async () => {
        if (mailer) await sendMail(house, mailer, String(id));
      }),
    owner_mail: ({ id, tries }) =>
      unlessHeld(async () => {
        if (mailer) await mailOwner(house, mailer, String(id), Number(tries ?? 0));
      }),
  };
}

const WATCH_MS = 30_000;

/** Looks now and then for what waits though its job is gone. */
export function watchPost({ house, log, mailer }: Omit<PostHouse, 'outgoing'>): { stop: () => void } {
  const wake = async () =>
    (await house.stores.post.isHeld()) ? null : await wakeOverdue(house, mailer !== null);
  const timer = setInterval(() => {
    wake().then(
      (woken) => {
        if (woken === null) return;
        if (woken.events + woken.deliveries + woken.mails + woken.uncertain > 0)
          log.warn(woken, 'events, webhooks or mails had lost their jobs: woken again');
      },
      (error: unknown) => log.warn({ err: error }, 'could not look for events left behind'),
    );
  }, WATCH_MS);
  timer.unref();
  return { stop: () => clearInterval(timer) };
}
