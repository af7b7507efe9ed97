import type { Role, RunState, Step } from '../domain/words.js';
import type { Gauges, OwnGauges } from './gauges.js';

export interface StepRecord {
  runId: string;
  name: Step;
  state: RunState;
  /** Share done, 0 to 1. */
  progress: number;
  counts: Record<string, number>;
  seconds: number | null;
}

/** A key without its hash. */
export interface AccessKeyRecord {
  id: string;
  name: string;
  memberId: string | null;
  roles: Role[];
  expiresAt: string | null;
  revokedAt: string | null;
  lastUsedAt: string | null;
  createdAt: string;
}

export interface ImportRecord {
  id: string;
  source: string;
  files: unknown;
  counts: Record<string, number>;
  askedBy: string;
  createdAt: string;
}

/** Simple reads that no write depends on. */
export interface Reads {
  /** Steps of nightly runs, by run and in order. */
  steps(runIds: readonly string[]): Promise<StepRecord[]>;
  /** Oldest first. */
  accessKeys(): Promise<AccessKeyRecord[]>;
  /** What a watcher of the service wants to know now. */
  gauges(now: Date): Promise<Gauges>;
  /** What is known without asking the database. */
  own(): Promise<OwnGauges>;
  /** Newest first. */
  imports(limit: number): Promise<ImportRecord[]>;
}
