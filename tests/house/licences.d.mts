export interface LockedPackage {
  name: string;
  version: string;
  licence: string;
  isTool: boolean;
}
export function packagesOf(lock: { packages: Record<string, object> }): LockedPackage[];
export function objection(one: Omit<LockedPackage, 'version'>): string | null;
export function readLock(): { packages: Record<string, object> };
