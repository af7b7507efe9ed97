import type { Row } from '../ports.js';
import type { LinesAsked, Period } from './lineFilter.js';

/** What lines, and cleans of them, can be told apart by. */
export const GROUPINGS = ['kind', 'material', 'area', 'builder', 'basement', 'iron'] as const;
export type Grouping = (typeof GROUPINGS)[number];

/** What a visit costs, in minor units of money: an hour of a crew without a price of its own, and a visit without hours. */
export interface VisitPrices {
  crewHourMinor: number;
  visitMinor: number;
}

/** Work of a period; with no filter that narrows to lines all of it, whatever it was on. */
export interface WorkAsked {
  asked: LinesAsked;
  period: Period;
  zone: string;
  prices: VisitPrices;
}

/** Each question over the whole base or the lines asked for, in one set-based query. */
export interface ReportStore {
  /** How many lines are asked for. */
  count(asked: LinesAsked): Promise<number>;
  /** What sites have on record there, each once, in order. */
  siteValues(column: 'area' | 'town' | 'builder'): Promise<string[]>;
  /** Of the lines with a trend at most so many, as the night sees them, by id; `lines` counts all that are asked for. */
  sampleLines(asked: LinesAsked, atMost: number): Promise<{ lines: number; rows: Row[] }>;
  /** Lines with what is believed of each: rate, occlusion, limits, due date, and chances by the stored days ahead. */
  trends(asked: LinesAsked): Promise<Row[]>;
  /**
   * Stretches from a clean or a new pipe to the first reading past the limit, or to the last moment the line is known
   * to have been under it: group, days, event, and how many were alike.
   * @param ironLimit Dissolved iron from which ochre counts as known, mg/L.
   */
  stretches(ask: {
    asked: LinesAsked;
    limit: 'action' | 'plug';
    by: Grouping;
    ironLimit: number;
    zone: string;
  }): Promise<Row[]>;
  /** Cleans in a period by crew and task: before, after, regrowth, flow. */
  cleanResults(asked: LinesAsked, period: Period, zone: string): Promise<Row[]>;
  /** Lines found plugged by deposit or for a cause unknown, each with the newest forecast stored before. */
  plugs(asked: LinesAsked, period: Period, zone: string): Promise<Row[]>;
  /** Readings that wait for a person's judgement. */
  openReviews(asked: LinesAsked): Promise<Row[]>;
  /** Of each fact: lines (or sites, pits) it is asked of, unknown, and assumed. */
  unknownFacts(asked: LinesAsked): Promise<Row[]>;
  /** Lines under care terms in force, with the interval these come to and what is believed. */
  careTermLines(asked: LinesAsked): Promise<Row[]>;
  /** Visits, hours, costs and earnings by line, site or client; of those with a price the ones that lose most first. */
  earnings(ask: WorkAsked & { by: 'line' | 'site' | 'client' }): Promise<Row[]>;
  /** Orders done and those that came back, by crew and task. */
  returnWork(ask: WorkAsked): Promise<Row[]>;
  /** Orders done with what was agreed for each, in order of their day: on lines, on pits or on neither. */
  doneWork(ask: WorkAsked): Promise<Row[]>;
  /** What speaks for a cleanout or a smooth pipe, a row a line; for an alarm or a second pump, a row a pit. */
  proposalFacts(asked: LinesAsked): Promise<{ lines: Row[]; pits: Row[] }>;
  /** Proposals by kind and state, with visits saved and money. */
  proposalCounts(asked: LinesAsked): Promise<Row[]>;
  /** Mean minutes driven to a visit on the routes of the last year; null where none was ever made. */
  driveMinutes(): Promise<number | null>;
}
