export interface Letter {
  to: string;
  subject: string;
  text: string;
  /** The same on every try, so that a mail server may know it again. */
  messageId: string;
  /** Null: who gets it cannot do without. */
  unsubscribeUrl: string | null;
}

/** `refused`: it is certain that the mail did not go out; `uncertain`: it may have. */
export type MailOutcome =
  | { kind: 'sent' }
  | { kind: 'refused'; forGood: boolean; because: string }
  | { kind: 'uncertain'; because: string };

/** The mail server, as the settings name it. */
export interface Mailer {
  /** Name that mails are signed with, and the part of the sender's address behind the @. */
  sender: { name: string; domain: string };
  /** Where the service is reached from outside, without a slash at its end. */
  publicUrl: string;
  send(letter: Letter): Promise<MailOutcome>;
}
