import { v7 as newId } from 'uuid';
import { isWanted, MAIL_OF, RESULTS_TOLD } from '../../domain/telling/mailRules.js';
import type { EventType } from '../../domain/words.js';
import type { House } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { ownersHear } from './mailOwner.js';
import { POST } from './postStore.js';

const AT_ONCE = 500;

/**
 * Hands events on: a delivery for each endpoint that wants one, a mail for each contact who is to hear of it. Each
 * event once, whoever else does the same.
 *
 * @param mailOn Whether there is a mail server; without one no mail is kept waiting.
 * @returns How many events were handed on.
 */
export async function handOnEvents(house: House, mailOn: boolean): Promise<number> {
  let handed = 0;
  for (;;) {
    const count = await house.transact(POST, async ({ post, rows, ...others }) => {
      const events = await post.takeUnposted(AT_ONCE);
      if (events.length === 0) return 0;
      const ids = events.map((event) => String(event['id']));
      const deliveries = (await post.wantedDeliveries(ids)).map((row) => ({
        id: newId(),
        ...row,
        ...NEW_ROW,
      }));
      await rows.insertMany('webhook_delivery', deliveries, { skipDoubles: true });
      const told = events.filter(isTold).map((event) => String(event['id']));
      const { telling } = await ownerSettings({ post, rows, ...others });
      const kinds = Object.entries(MAIL_OF)
        .filter(([, kind]) => isWanted(kind, telling))
        .map(([type, kind]) => ({ type: type as EventType, kind }));
      const today = house.zone.dayOf(house.clock.now());
      const mails = mailOn
        ? (await post.wantedMails(told, kinds, today)).map((row) => ({ id: newId(), ...row, ...NEW_ROW }))
        : [];
      const toOwners = events.filter(({ kind }) => ownersHear(kind as EventType)).map(({ id }) => String(id));
      if (mailOn && toOwners.length > 0) await post.wake('owner_mail', await post.ownersToMail(toOwners), 0);
      await rows.insertMany('mail', mails, { skipDoubles: true });
      await post.markPosted(ids);
      await post.wake(
        'webhook',
        deliveries.map(({ id }) => id),
        0,
      );
      await post.wake(
        'mail',
        mails.map(({ id }) => id),
        0,
      );
      return events.length;
    });
    handed += count;
    if (count < AT_ONCE) return handed;
  }
}

const NEW_ROW = { state: 'waiting', tries: 0, next_try_at: 'now', created_at: 'now' };

const isTold = (event: Row): boolean =>
  event['kind'] !== 'work_finished' ||
  RESULTS_TOLD.some((result) => result === (event['facts'] as { result?: string }).result);
