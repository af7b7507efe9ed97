import { createTransport } from 'nodemailer';
import { OutgoingFault } from '../actions/outgoing.js';
import type { Mailer, MailOutcome } from '../actions/telling/mailer.js';
import { type OutgoingOptions, safeAddresses } from './outgoing.js';

export interface SmtpOptions {
  host: string;
  port: number;
  /** `starttls` and `tls` insist on a good certificate; `none` is for a host that `OUTGOING_ALLOW` names. */
  security: 'starttls' | 'tls' | 'none';
  /** Null: the server asks for none. */
  login: { user: string; secret: string } | null;
  /** As `Alder Quay Drainworks <office@example.org>`. */
  from: { name: string; address: string };
  publicUrl: string;
  outgoing: OutgoingOptions;
  /** Each step of a conversation. */
  timeoutMs?: number;
}

const STEP_MS = 30_000;
/** Nothing of the message is sent before the server says that it may begin. */
const BEGIN_DATA = /^354/;

/**
 * Mail through an SMTP server, a conversation a mail. The server's address is looked at as that of any outgoing call,
 * and is the one connected to; its certificate must be that of its name.
 */
export function smtpMail(options: SmtpOptions): Mailer {
  const { host, port, security, login, from, publicUrl, outgoing, timeoutMs = STEP_MS } = options;
  return {
    sender: { name: from.name, domain: from.address.split('@').at(-1) ?? 'localhost' },
    publicUrl,
    async send(letter): Promise<MailOutcome> {
      let hasBegun = false;
      const heard = (entry: unknown, text: unknown) => {
        if ((entry as { tnx?: string }).tnx === 'server' && BEGIN_DATA.test(String(text))) hasBegun = true;
      };
      try {
        const [address] = await safeAddresses(host, outgoing);
        const transport = createTransport({
          host: address?.address ?? host,
          port,
          secure: security === 'tls',
          requireTLS: security === 'starttls',
          ignoreTLS: security === 'none',
          tls: { servername: host, ...(outgoing.ca === undefined ? {} : { ca: outgoing.ca }) },
          ...(login ? { auth: { user: login.user, pass: login.secret } } : {}),
          connectionTimeout: timeoutMs,
          greetingTimeout: timeoutMs,
          socketTimeout: timeoutMs,
          transactionLog: true,
          logger: listener(heard),
        });
        await transport.sendMail({
          from,
          // As an object it is one address whatever stands in it; as text it would be a list.
          to: { name: '', address: letter.to },
          subject: letter.subject,
          text: letter.text,
          messageId: letter.messageId,
          headers: {
            'Auto-Submitted': 'auto-generated',
            ...(letter.unsubscribeUrl === null
              ? {}
              : {
                  'List-Unsubscribe': `<${letter.unsubscribeUrl}>`,
                  'List-Unsubscribe-Post': 'List-Unsubscribe=One-Click',
                }),
          },
          disableFileAccess: true,
          disableUrlAccess: true,
        });
        return { kind: 'sent' };
      } catch (error) {
        return outcomeOf(error, hasBegun);
      }
    },
  };
}

/** The library tells its conversation to a logger; nothing of it is kept. */
function listener(heard: (entry: unknown, text: unknown) => void) {
  const none = () => undefined;
  return { level: none, trace: none, debug: heard, info: none, warn: none, error: none, fatal: none };
}

interface SmtpError {
  responseCode?: number;
  code?: string;
  command?: string;
}

/** Refused at other steps it is a matter of the settings or of the server: the mail waits for them. */
const ABOUT_THE_MAIL: ReadonlySet<string> = new Set(['RCPT TO', 'DATA']);

/** 5yz is for good, 4yz passes (RFC 5321, 4.2.1); no reply after the message has begun tells nothing. */
function outcomeOf(error: unknown, hasBegun: boolean): MailOutcome {
  if (error instanceof OutgoingFault) return { kind: 'refused', forGood: false, because: error.message };
  const { responseCode, code = 'unknown', command } = error as SmtpError;
  if (responseCode !== undefined) {
    const step = code === 'EAUTH' ? 'the login' : (command ?? 'the mail');
    return {
      kind: 'refused',
      forGood: responseCode >= 500 && ABOUT_THE_MAIL.has(step),
      because: `the mail server refused ${step} (${responseCode})`,
    };
  }
  if (hasBegun) return { kind: 'uncertain', because: `the mail server fell silent in the middle (${code})` };
  return { kind: 'refused', forGood: false, because: `the mail server could not be talked to (${code})` };
}
