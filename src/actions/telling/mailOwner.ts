import type { EventType } from '../../domain/words.js';
import type { House } from '../house.js';
import type { Mailer } from './mailer.js';
import { POST } from './postStore.js';
import { tell } from './tell.js';

/** Of which events the owners hear by mail, where they are set down as members with an address and a key of their own. */
export const OWNERS_HEAR: ReadonlySet<EventType> = new Set(['webhook_moved']);

/**
 * Writes one owner of one event, at least once: a kill in the middle writes again.
 *
 * @param id `EVENT:MEMBER`.
 * @throws {Error} The mail server may take it later.
 */
export async function mailOwner(house: House, mailer: Mailer, id: string): Promise<void> {
  const [eventId = '', memberId = ''] = id.split(':');
  const news = await house.stores.post.ownersNews(eventId, memberId);
  if (!news) return;
  const outcome = await mailer.send({
    to: String(news['email']),
    messageId: `<${eventId}.${memberId}@${mailer.sender.domain}>`,
    unsubscribeUrl: null,
    subject: 'A webhook was sent elsewhere',
    text: [
      `Hello ${String(news['name'])},`,
      String(news['text']),
      `It happened at ${String(news['at'])}. If you know nothing of it, revoke the key and look at the endpoint ${String(news['subject_id'])}.`,
      mailer.sender.name,
    ].join('\n\n'),
  });
  if (outcome.kind === 'sent') return;
  if (outcome.kind === 'refused' && !outcome.forGood) throw new Error(outcome.because);
  await house.transact(POST, (stores) =>
    tell(stores, {
      type: 'mail_not_sent',
      subjectId: eventId,
      once: id,
      facts: {
        eventType: news['kind'] as EventType,
        because: outcome.because,
        uncertain: outcome.kind === 'uncertain',
      },
    }),
  );
}
