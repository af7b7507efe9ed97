import type { Jobs } from './worker.js';

/** What a process can say of its own work without asking anybody. */
export interface Vitals {
  /** Signs of life of long work that could not be written down, since the start. */
  beatsLost: number;
  /** Jobs worked on right now, by kind. */
  working: Record<string, number>;
}

export const newVitals = (): Vitals => ({ beatsLost: 0, working: {} });

/** The same jobs, counted while they are worked on. */
export const counted = (jobs: Jobs, { working }: Vitals): Jobs =>
  Object.fromEntries(
    Object.entries(jobs).map(([kind, job]) => {
      working[kind] = 0;
      const add = (one: 1 | -1) => {
        working[kind] = (working[kind] ?? 0) + one;
      };
      return [
        kind,
        async (payload: Record<string, unknown>, signal?: AbortSignal) => {
          add(1);
          try {
            await job(payload, signal);
          } finally {
            add(-1);
          }
        },
      ];
    }),
  );
