import type { Logger } from 'pino';
import type { House } from '../actions/house.js';
import type { Outgoing } from '../actions/outgoing.js';
import { handOnEvents } from '../actions/telling/handOn.js';
import type { Mailer } from '../actions/telling/mailer.js';
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

/** The jobs that hand events on: `post` to all who want them, `webhook` and `mail` one each. */
export function postJobs({ house, outgoing, mailer }: PostHouse): Jobs {
  return {
    post: async () => {
      await handOnEvents(house, mailer !== null);
    },
    webhook: ({ id }) => sendWebhook(house, outgoing, String(id)),
    mail: async ({ id }) => {
      if (mailer) await sendMail(house, mailer, String(id));
    },
  };
}

const WATCH_MS = 30_000;

/** Looks now and then for what waits though its job is gone. */
export function watchPost({ house, log, mailer }: Omit<PostHouse, 'outgoing'>): { stop: () => void } {
  const timer = setInterval(() => {
    wakeOverdue(house, mailer !== null).then(
      (woken) => {
        if (woken.events + woken.deliveries + woken.mails + woken.uncertain > 0)
          log.warn(woken, 'events, webhooks or mails had lost their jobs: woken again');
      },
      (error: unknown) => log.warn({ err: error }, 'could not look for events left behind'),
    );
  }, WATCH_MS);
  timer.unref();
  return { stop: () => clearInterval(timer) };
}
