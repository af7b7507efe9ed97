import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import type { AttemptResult, MailKind } from '../domain/words.js';
import { clockText, weekdayText } from './printed.js';

/** What a mail to a contact says; times of day `HH:MM`. */
export interface MailAbout {
  kind: MailKind;
  /** Of the contact, as `en` or `en-US`; English where we have no texts in it. */
  language: string;
  units: UnitSystem;
  contactName: string;
  /** Where the visit is. */
  place: string;
  orderNumber: number;
  day: IsoDate;
  /** Window of a promised visit, or the time a crew is expected at in `from`. */
  from: string | null;
  to: string | null;
  promised: boolean;
  result: AttemptResult | null;
  sender: string;
  unsubscribeUrl: string;
}

interface Told {
  place: string;
  orderNumber: number;
  day: string;
  from: string | null;
  to: string | null;
  promised: boolean;
  result: AttemptResult | null;
}

/** The words of one language: each kind a subject and its paragraphs. */
interface Letters {
  greeting: (name: string) => string;
  regards: string;
  unsubscribe: string;
  kinds: Record<MailKind, (told: Told) => { subject: string; paragraphs: string[] }>;
}

const ENGLISH: Letters = {
  greeting: (name) => `Hello ${name},`,
  regards: 'Kind regards',
  unsubscribe: 'You do not want mails about visits any more? Open this page and confirm:',
  kinds: {
    reminder: ({ place, orderNumber, day, from, to, promised }) => ({
      subject: `${promised ? 'Our visit' : 'Our planned visit'} on ${day}`,
      paragraphs: [
        promised
          ? `we come to ${place} on ${day}${window(from, to)} to look after your drains (order ${orderNumber}).`
          : `we plan to come to ${place} on ${day} to look after your drains (order ${orderNumber}). The day may still change.`,
        'Please see that our crew can get to the drains and the pump. If the day does not suit you, answer this mail or phone us.',
      ],
    }),
    on_the_way: ({ place, orderNumber, from }) => ({
      subject: from === null ? 'Our crew is on its way' : `Our crew is on its way, about ${from}`,
      paragraphs: [
        `our crew has left for ${place} (order ${orderNumber})${from === null ? '.' : ` and expects to be there at about ${from}.`}`,
      ],
    }),
    running_late: ({ place, orderNumber, from, to }) => ({
      subject: `Our crew will be late, about ${from}`,
      paragraphs: [
        `we are sorry: our crew will be late at ${place} (order ${orderNumber}).${to === null ? '' : ` It was to be there before ${to}.`} It expects to be there at about ${from}.`,
        'If that does not suit you, please phone us.',
      ],
    }),
    done: ({ place, orderNumber, day, result }) => ({
      subject: `Our visit on ${day}`,
      paragraphs: [
        `our crew was at ${place} on ${day} (order ${orderNumber}). ${DONE[result ?? 'done']}`,
        'If water rises, or the pump runs and no water comes, phone us at once. Do not enter a flooded basement before the power is off.',
      ],
    }),
  },
};

const DONE: Record<AttemptResult, string> = {
  done: 'The work is done.',
  partly: 'Part of the work is done; we come again for the rest.',
  not_needed: 'We looked, and nothing needed to be done this time.',
  not_done: 'The work could not be done; we come again.',
};

function window(from: string | null, to: string | null): string {
  if (from !== null && to !== null) return ` between ${from} and ${to}`;
  if (from !== null) return ` from ${from}`;
  return to === null ? '' : ` before ${to}`;
}

/** Languages we have texts in, by their first subtag (RFC 5646). */
const LETTERS: Readonly<Record<string, Letters>> = { en: ENGLISH };

const lettersIn = (language: string): Letters =>
  LETTERS[language.toLowerCase().split('-')[0] ?? ''] ?? ENGLISH;

/** Subject and text of a mail, in plain words and plain text. */
export function mailText(about: MailAbout): { subject: string; text: string } {
  const letters = lettersIn(about.language);
  const clock = (time: string | null) => (time === null ? null : clockText(secondsOf(time), about.units));
  const { subject, paragraphs } = letters.kinds[about.kind]({
    ...about,
    day: weekdayText(about.day),
    from: clock(about.from),
    to: clock(about.to),
  });
  const parts = [
    letters.greeting(about.contactName),
    ...paragraphs,
    `${letters.regards}\n${about.sender}`,
    `-- \n${letters.unsubscribe}\n${about.unsubscribeUrl}`,
  ];
  return { subject: plain(subject), text: `${plain(parts.join('\n\n'))}\n` };
}

const secondsOf = (time: string): number => Number(time.slice(0, 2)) * 3600 + Number(time.slice(3, 5)) * 60;

/** Spaces that keep things on one line on paper are of no use in a mail. */
const plain = (text: string): string => text.replace(/[\u00A0\u202F]/g, ' ');
