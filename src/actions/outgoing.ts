/** One call to somebody else's server. */
export interface OutgoingAsk {
  method: 'GET' | 'POST';
  url: string;
  headers: Record<string, string>;
  body?: string;
  /** From the first look-up to the last byte. */
  timeoutMs: number;
  /** Of the answer's body. */
  atMostBytes: number;
  /** A longer answer is cut off instead of refused. */
  cut?: boolean;
  signal?: AbortSignal;
}

export interface OutgoingAnswer {
  /** Redirects are answers like any other: nobody follows them. */
  status: number;
  headers: Record<string, string | undefined>;
  body: string;
}

/** Why a call came to nothing; the words name no address that was looked up. */
export class OutgoingFault extends Error {
  readonly code: 'refused' | 'unreachable' | 'timeout' | 'too_large';
  /** What whoever asked for the call may hear: less, where the message tells of names inside. */
  readonly told: string;

  constructor(code: OutgoingFault['code'], message: string, options?: ErrorOptions & { told?: string }) {
    super(message, options);
    this.name = 'OutgoingFault';
    this.code = code;
    this.told = options?.told ?? message;
  }
}

/** The one door for calls to others. */
export interface Outgoing {
  /** @throws {OutgoingFault} */
  call(ask: OutgoingAsk): Promise<OutgoingAnswer>;
  /** What forbids an address before anybody calls it; null: nothing that can be seen from here. */
  refuses(url: string): string | null;
}
