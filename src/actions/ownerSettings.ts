import {
  DEFAULT_SETTINGS,
  type OwnerSettings,
  type SettingChanges,
  settingsWith,
} from '../domain/work/settings.js';
import type { Stores } from './house.js';
import type { Actor } from './ports.js';
import { type FieldFault, Refused } from './problems.js';

export interface HeldSettings {
  settings: OwnerSettings;
  /** What differs from the defaults. */
  changes: SettingChanges;
  /** Grows with every change. */
  version: number;
}

export async function heldSettings(stores: Stores): Promise<HeldSettings> {
  const rows = await stores.settings.all();
  const changes = Object.fromEntries(rows.map((row) => [row['name'], row['value']])) as SettingChanges;
  return {
    settings: settingsWith(changes),
    changes,
    version: rows.reduce((sum, row) => sum + Number(row['version']), 0),
  };
}

export async function ownerSettings(stores: Stores): Promise<OwnerSettings> {
  return (await heldSettings(stores)).settings;
}

/** Changes by group; null puts a group back to its defaults. */
export type SettingPatch = { [Group in keyof SettingChanges]?: SettingChanges[Group] | null };

/**
 * Takes the owner's changes; the next night goes by them.
 *
 * @throws {Refused} `rule-broken` when numbers do not fit together.
 */
export async function changeSettings(
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  patch: SettingPatch,
): Promise<HeldSettings> {
  const held = (await heldSettings(stores)).changes as Record<string, object | undefined>;
  const next: Record<string, object> = {};
  for (const [group, change] of Object.entries(patch)) {
    if (change === undefined) continue;
    next[group] = change === null ? {} : deepMerged(held[group] ?? {}, change);
  }
  refuseUnfit(settingsWith({ ...held, ...next } as SettingChanges));
  for (const [group, value] of Object.entries(next)) await stores.settings.put(group, value, actor.name);
  return heldSettings(stores);
}

function deepMerged(base: object, change: object): object {
  const out: Record<string, unknown> = { ...base };
  for (const [key, value] of Object.entries(change)) {
    const old = out[key];
    out[key] = isGroup(value) && isGroup(old) ? deepMerged(old, value) : value;
  }
  return out;
}

const isGroup = (value: unknown): value is object =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

function refuseUnfit({ limits, intervals }: OwnerSettings): void {
  const faults: FieldFault[] = [];
  const kinds = Object.keys(DEFAULT_SETTINGS.limits.action) as (keyof OwnerSettings['limits']['action'])[];
  for (const kind of kinds) {
    if (limits.action[kind] >= limits.plug)
      faults.push({
        pointer: `#/limits/action/${kind}`,
        detail: `the action limit ${limits.action[kind]} is not below the plug limit ${limits.plug}`,
        remedy: `less than ${limits.plug}`,
      });
  }
  if (intervals.minDays > intervals.maxDays)
    faults.push({
      pointer: '#/intervals/minDays',
      detail: `${intervals.minDays} is more than maxDays ${intervals.maxDays}`,
      remedy: `at most ${intervals.maxDays}`,
    });
  if (faults.length > 0) throw new Refused({ code: 'rule-broken', rule: 'settings', faults });
}
