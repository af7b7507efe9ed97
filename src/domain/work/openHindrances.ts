import type { IsoDate } from '../calendar/isoDate.js';
import { weekdayText } from '../calendar/saidDay.js';
import type { PreconditionKind } from '../words.js';
import type { Hindrance } from './hindrances.js';

/** What a planned visit waits for, and the ticket it digs on. */
export interface PlannedGround {
  startsAt: string;
  /** Kinds of its open preconditions. */
  waitsFor: readonly PreconditionKind[];
  ticket: PlannedTicket | null;
}

/** A locate ticket as it stands for one order. */
export interface PlannedTicket {
  id: string;
  number: string | null;
  digFrom: string;
  firstDay: IsoDate;
  /** Last day on which the order may begin, or go on once begun; null: no end known. */
  goodTo: IsoDate | null;
  /** What is still open on it; null: nothing. */
  open: string | null;
}

/** A visit that waits for something again, or a dig outside the life of its ticket: empty where it may go ahead. */
export function openHindrances({ startsAt, waitsFor, ticket }: PlannedGround, day: IsoDate): Hindrance[] {
  const waiting = waitsFor.map((kind) => ({
    code: 'precondition_open' as const,
    facts: { recordIds: [], kind },
    text:
      kind === 'locate_ticket'
        ? `${ticketName(ticket)} is open${ticket?.open ? `: ${ticket.open}` : ''}`
        : `waits for ${kind.replaceAll('_', ' ')}`,
  }));
  return [...waiting, ...(ticket === null ? [] : outsideTicket(ticket, startsAt, day))];
}

function outsideTicket(ticket: PlannedTicket, startsAt: string, day: IsoDate): Hindrance[] {
  const { id, digFrom, firstDay, goodTo } = ticket;
  const outside = (text: string): Hindrance[] => [
    {
      code: 'outside_ticket',
      facts: { recordIds: [id], digFrom: new Date(digFrom).toISOString(), firstDay, goodTo },
      text: `${ticketName(ticket)} ${text}`,
    },
  ];
  if (day < firstDay) return outside(`is good from ${weekdayText(firstDay)} on`);
  if (Date.parse(startsAt) < Date.parse(digFrom)) return outside('begins later that day');
  if (goodTo !== null && day > goodTo) return outside(`is good until ${weekdayText(goodTo)} only`);
  return [];
}

const ticketName = (ticket: PlannedTicket | null): string =>
  `its locate ticket${ticket?.number ? ` ${ticket.number}` : ''}`;
