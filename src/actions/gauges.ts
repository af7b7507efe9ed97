/** What waits to go out or to be taken in: how much, how much was given up, and how old the oldest that waits is. */
export interface Backlog {
  waiting: number;
  failed: number;
  oldestS: number;
}

export const BACKLOGS = ['events', 'webhooks', 'mails', 'sync_items'] as const;

/** Connections to the database that one kind of callers of this process shares. */
export interface PoolGauge {
  busy: number;
  idle: number;
  /** The most it opens. */
  most: number;
  /** Callers that wait for one. */
  waiting: number;
  /** Callers that got none in time, since the start. */
  timeouts: number;
}

/** What a process tells of itself, also while the database is away. */
export interface OwnGauges {
  pools: Record<string, PoolGauge>;
  /** Free bytes of the disks of this process, by what lies there. */
  freeBytes: Record<string, number>;
  /** Signs of life of long work that could not be written down, since the start. */
  beatsLost: number;
  /** Jobs worked on right now, by kind. */
  working: Record<string, number>;
}

/** What a watcher of the service wants to know at any moment. */
export interface Gauges {
  /**
   * Jobs of the queue: due and not begun; worked on; failed for good while what they were to do is undone; and how
   * long the oldest of the first two is due.
   */
  jobs: { waiting: number; locked: number; failed: number; oldestS: number };
  /** The night of the latest business day, begun or not; null before the first. */
  night: {
    businessDay: string;
    state: string;
    /** Instant at which it was last begun; null: it waits. */
    startedAt: Date | null;
    stepSeconds: { name: string; seconds: number }[];
  } | null;
  /** Orders that wait for a crew, and the seconds since the oldest of them was made. */
  unplaced: { orders: number; oldestS: number };
  /** Forecasts judged so far by what was found: how many, how many were to pass the action limit, how many did. */
  forecasts: { judged: number; expected: number; passed: number };
  backlog: Record<(typeof BACKLOGS)[number], Backlog>;
  /** Since a restore nothing goes out. */
  postHeld: boolean;
  /** Null: this base never was. */
  backedUpAt: Date | null;
  databaseBytes: number;
  migrations: { applied: number; last: string };
}
