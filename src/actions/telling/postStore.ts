import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { EventType, MailKind } from '../../domain/words.js';
import type { Row } from '../ports.js';

/** Who hands events on, in the change log. */
export const POST = { name: 'post' };

/** Events on their way to others. Jobs only wake: what is waiting, sent or failed stands in these rows. */
export interface PostStore {
  /** Since a restore, until somebody says that the base is the real one: nothing goes out. */
  isHeld(): Promise<boolean>;
  /** Events nobody handed on yet, oldest first, locked; those somebody else holds are left out. */
  takeUnposted(limit: number): Promise<Row[]>;
  markPosted(eventIds: readonly string[]): Promise<void>;
  /** Pairs of event_id and endpoint_id: endpoints in service that want to hear of these events. */
  wantedDeliveries(eventIds: readonly string[]): Promise<Row[]>;
  /**
   * Rows of event_id, contact_id and kind: contacts of the event's site with an address who want mail, else those of
   * its present client; one a mail address.
   */
  wantedMails(
    eventIds: readonly string[],
    kinds: readonly { type: EventType; kind: MailKind }[],
    today: IsoDate,
  ): Promise<Row[]>;
  /** `EVENT:MEMBER` for each owner with an address, of these events. */
  ownersToMail(eventIds: readonly string[]): Promise<string[]>;
  /** What an owner is written of an event: kind, text, subject_id, at, the member's name and email; null: event or owner has gone. */
  ownersNews(eventId: string, memberId: string): Promise<Row | null>;
  /** Wakes a job for each row, after so many seconds; `tries` made so far goes with it where no row says so. */
  wake(
    task: 'webhook' | 'mail' | 'owner_mail',
    ids: readonly string[],
    delaySeconds: number,
    tries?: number,
  ): Promise<void>;

  /**
   * Takes a delivery that is due, for so long nobody else does; null: not due, or somebody's. With its event (event_…)
   * and endpoint (url, secret, old_secret, old_secret_until, disabled_at, archived_on, failing_since).
   */
  claimDelivery(id: string, leaseSeconds: number): Promise<Row | null>;
  /** Next try so many seconds from now. */
  postponeDelivery(
    id: string,
    seconds: number,
    change: { status: number | null; error: string; reason: string | null },
  ): Promise<void>;
  /** Waiting deliveries of an endpoint end as failed; how many. */
  failWaiting(endpointId: string, error: string): Promise<number>;

  /** A mail that is due, locked, with its event (event_…), contact (contact_…), site and order; null: not due. */
  lockMail(id: string): Promise<Row | null>;
  postponeMail(id: string, seconds: number, error: string | null): Promise<void>;
  /** In conversation from now, for so long. */
  beginMail(id: string, leaseSeconds: number): Promise<void>;
  /** Mails whose conversation was broken off by a kill; they are marked uncertain. */
  markLostMails(): Promise<Row[]>;
  keepUnsubscribeLink(hash: Buffer, contactId: string): Promise<void>;
  /** Id of the contact that a link was made for; null: no such link. */
  contactOfLink(hash: Buffer): Promise<string | null>;
  /** Day for which an order's visit is promised, else planned; null: none. */
  visitDay(workOrderId: string): Promise<IsoDate | null>;

  /** Ids of what is overdue by so many seconds, whose jobs were lost. */
  overdue(seconds: number): Promise<{ events: number; deliveries: string[]; mails: string[] }>;
}
