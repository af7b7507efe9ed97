import { nextMailTrySeconds } from '../../domain/telling/retries.js';
import type { EventType } from '../../domain/words.js';
import type { House } from '../house.js';
import type { Mailer } from './mailer.js';
import { POST } from './postStore.js';
import { tell } from './tell.js';

/** Of which events the owners hear by mail, where they are set down as members with an address and a key of their own. */
const SUBJECTS: Partial<Record<EventType, string>> = {
  webhook_made: 'A new webhook was set up',
  webhook_moved: 'A webhook was sent elsewhere',
};
export const ownersHear = (kind: EventType): boolean => kind in SUBJECTS;

/**
 * Writes one owner of one event, at least once: a kill in the middle writes again. What the mail server does not take yet
 * is tried again as any other mail, and in the end told of.
 *
 * @param id     `EVENT:MEMBER`.
 * @param tries  Made so far.
 * @param chance Uniform in [0, 1).
 */
export async function mailOwner(
  house: House,
  mailer: Mailer,
  id: string,
  tries = 0,
  chance: number = Math.random(),
): Promise<void> {
  const [eventId = '', memberId = ''] = id.split(':');
  const news = await house.stores.post.ownersNews(eventId, memberId);
  if (!news) return;
  const kind = news['kind'] as EventType;
  const outcome = await mailer.send({
    to: String(news['email']),
    messageId: `<${eventId}.${memberId}@${mailer.sender.domain}>`,
    unsubscribeUrl: null,
    subject: SUBJECTS[kind] ?? '',
    text: [
      `Hello ${String(news['name'])},`,
      String(news['text']),
      `It happened at ${String(news['at'])}. If you know nothing of it, revoke the key and look at the endpoint ${String(news['subject_id'])}.`,
      mailer.sender.name,
    ].join('\n\n'),
  });
  if (outcome.kind === 'sent') return;
  const isPutOff = outcome.kind === 'refused' && !outcome.forGood;
  const wait = isPutOff ? nextMailTrySeconds(tries + 1, chance) : null;
  await house.transact(POST, async (stores) => {
    if (wait !== null) return stores.post.wake('owner_mail', [id], wait, tries + 1);
    await tell(stores, {
      type: 'mail_not_sent',
      subjectId: eventId,
      once: id,
      facts: {
        eventType: kind,
        because: outcome.because,
        uncertain: outcome.kind === 'uncertain',
      },
    });
  });
}
