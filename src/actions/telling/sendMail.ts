import { createHash, randomBytes } from 'node:crypto';
import { droppedBecause, heedsQuiet, quietSeconds } from '../../domain/telling/mailRules.js';
import { nextMailTrySeconds } from '../../domain/telling/retries.js';
import type { AttemptResult, EventType, MailKind, WorkOrderState } from '../../domain/words.js';
import { type MailAbout, mailText } from '../../papers/mailText.js';
import type { House, Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import type { Letter, Mailer, MailOutcome } from './mailer.js';
import { POST } from './postStore.js';
import { tell } from './tell.js';

/** Longer than a conversation with a mail server may take. */
const LEASE_SECONDS = 180;

/**
 * Sends one mail that is due, unless it is not wanted any more or has to wait for the morning. That the conversation
 * begins is on record before it does: what a kill leaves in it is uncertain and not sent again.
 *
 * @param chance Uniform in [0, 1).
 */
export async function sendMail(
  house: House,
  mailer: Mailer,
  mailId: string,
  chance: number = Math.random(),
): Promise<void> {
  const begun = await house.transact(POST, (stores) => begin(house, stores, mailer, mailId));
  if (!begun) return;
  const outcome = await mailer.send(begun.letter);
  await house.transact(POST, (stores) => record(stores, begun.mail, outcome, chance));
}

async function begin(
  house: House,
  stores: Stores,
  mailer: Mailer,
  mailId: string,
): Promise<{ mail: Row; letter: Letter } | null> {
  const mail = await stores.post.lockMail(mailId);
  if (!mail) return null;
  const dropped = await notWanted(house, stores, mail);
  if (dropped !== null) {
    await stores.rows.update('mail', mailId, {
      state: 'dropped',
      dropped_because: dropped,
      next_try_at: null,
    });
    return null;
  }
  const { telling } = await ownerSettings(stores);
  const quiet = heedsQuiet(mail['kind'] as MailKind)
    ? quietSeconds(house.zone.timeOf(house.clock.now()), telling)
    : 0;
  if (quiet > 0) {
    await stores.post.postponeMail(mailId, quiet, null);
    await stores.post.wake('mail', [mailId], quiet);
    return null;
  }
  const token = randomBytes(32).toString('base64url');
  await stores.post.keepUnsubscribeLink(hashOf(token), String(mail['contact_id']));
  await stores.post.beginMail(mailId, LEASE_SECONDS);
  const unsubscribeUrl = `${mailer.publicUrl}/unsubscribe/${token}`;
  return {
    mail: { ...mail, tries: Number(mail['tries']) + 1 },
    letter: {
      to: String(mail['email']),
      messageId: `<${mailId}@${mailer.sender.domain}>`,
      unsubscribeUrl,
      ...mailText(aboutOf(house, mailer, mail, unsubscribeUrl)),
    },
  };
}

export const hashOf = (token: string): Buffer => createHash('sha256').update(token).digest();

async function notWanted(house: House, stores: Stores, mail: Row): Promise<string | null> {
  return droppedBecause({
    kind: mail['kind'] as MailKind,
    contact: {
      hasAddress: mail['email'] !== null,
      optOut: mail['opt_out'] === true,
      archived: mail['archived_on'] !== null,
    },
    orderState: mail['order_state'] as WorkOrderState,
    day: dayOf(house, mail),
    visitDay: await stores.post.visitDay(String(mail['work_order_id'])),
    today: house.zone.dayOf(house.clock.now()),
    hoursOld: Number(mail['hours_old']),
    momentOver: isOver(house, mail),
  });
}

type Facts = Record<string, string | boolean | null | undefined>;

/** A crew on its way may be somewhat later than was thought. */
const DRIVE_LONGER_MS = 15 * 60_000;

function isOver(house: House, mail: Row): boolean {
  const { expectedAt } = mail['event_facts'] as Facts;
  return (
    typeof expectedAt === 'string' && house.clock.now().getTime() > Date.parse(expectedAt) + DRIVE_LONGER_MS
  );
}

/** Day that the mail speaks of. */
function dayOf(house: House, mail: Row): string {
  const facts = mail['event_facts'] as Facts;
  const instant = facts['expectedAt'] ?? facts['leftAt'];
  return String(facts['day'] ?? facts['endedOn'] ?? house.zone.dayOf(new Date(String(instant))));
}

function aboutOf(house: House, mailer: Mailer, mail: Row, unsubscribeUrl: string): MailAbout {
  const facts = mail['event_facts'] as Facts;
  const textOf = (value: Facts[string]): string | null => (typeof value === 'string' ? value : null);
  return {
    kind: mail['kind'] as MailKind,
    language: String(mail['language']),
    units: house.units,
    contactName: String(mail['contact_name']),
    place: `${String(mail['address'])}, ${String(mail['town'])}`,
    orderNumber: Number(mail['number']),
    day: dayOf(house, mail),
    from: textOf(facts['from'] ?? facts['expectedTime']),
    to: textOf(facts['to'] ?? facts['promisedTo']),
    promised: facts['promised'] === true,
    result: textOf(facts['result']) as AttemptResult | null,
    sender: mailer.sender.name,
    unsubscribeUrl,
  };
}

async function record(stores: Stores, mail: Row, outcome: MailOutcome, chance: number): Promise<void> {
  const id = String(mail['id']);
  const ended = { next_try_at: null, lease_until: null };
  if (outcome.kind === 'sent') {
    await stores.rows.update('mail', id, {
      ...ended,
      state: 'sent',
      sent_at: new Date().toISOString(),
      last_error: null,
    });
    return;
  }
  const { because } = outcome;
  const wait =
    outcome.kind === 'refused' && !outcome.forGood ? nextMailTrySeconds(Number(mail['tries']), chance) : null;
  if (wait !== null) {
    await stores.post.postponeMail(id, wait, because);
    await stores.post.wake('mail', [id], wait);
    return;
  }
  const isUncertain = outcome.kind === 'uncertain';
  await stores.rows.update('mail', id, {
    ...ended,
    state: isUncertain ? 'uncertain' : 'failed',
    last_error: because,
  });
  await tellNotSent(stores, mail, because, isUncertain);
}

/** A mail that did not go out, or nobody knows whether it did, is looked at by a person. */
export async function tellNotSent(
  stores: Stores,
  mail: Row,
  because: string,
  uncertain: boolean,
): Promise<void> {
  await tell(stores, {
    type: 'mail_not_sent',
    subjectId: String(mail['id']),
    once: `${String(mail['id'])}:${String(mail['tries'])}`,
    facts: { eventType: mail['event_kind'] as EventType, because, uncertain },
    about: {
      siteId: mail['site_id'] as string | null,
      workOrderId: mail['work_order_id'] as string | null,
    },
  });
}
