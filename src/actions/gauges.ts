/** What a watcher of the service wants to know at any moment. */
export interface Gauges {
  /** Database connections: open, of them idle; callers that wait for one. */
  connections: { open: number; idle: number; waiting: number };
  /** Jobs of the queue: due and not begun, and those that have failed for good. */
  jobs: { waiting: number; failed: number };
  /** The last night that ended or is under way; null before the first. */
  night: {
    businessDay: string;
    state: string;
    /** Seconds since it began. */
    ageS: number;
    stepSeconds: { name: string; seconds: number }[];
  } | null;
  /** Orders that wait for a crew, and the days since the oldest of them was made. */
  unplaced: { orders: number; oldestDays: number };
  /** Forecasts judged so far by what was found: how many, how many were to pass the action limit, how many did. */
  forecasts: { judged: number; expected: number; passed: number };
}
