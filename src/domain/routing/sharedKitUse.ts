import { mayTake } from './ability.js';
import type { Model } from './model.js';

/**
 * Who has which shared item on which day. Items of one kind are matched to the crew-days that need one;
 * a holder steps over to another item when that lets a newcomer in (augmenting path, Kuhn 1955).
 */
export class SharedKitUse {
  private readonly model: Model;
  /** Orders on route v that need kind k, at `v * K + k`. */
  private readonly uses: Int32Array;
  /** Crew-day that holds item i on day d, at `i * D + d`; -1 when free. */
  readonly holder: Int32Array;
  private readonly itemKind: Int32Array;
  private readonly eligible: Uint8Array;
  private readonly visited: Uint8Array;

  constructor(model: Model) {
    const { sharedItems, sharedKinds, crewDays, dayCount } = model;
    this.model = model;
    this.uses = new Int32Array(crewDays.length * sharedKinds.length);
    this.holder = new Int32Array(sharedItems.length * dayCount).fill(-1);
    this.itemKind = Int32Array.from(sharedItems, (item) => sharedKinds.indexOf(item.kind));
    this.eligible = Uint8Array.from(
      sharedItems.flatMap((item) => crewDays.map((crewDay) => (mayTake(item, crewDay) ? 1 : 0))),
    );
    this.visited = new Uint8Array(sharedItems.length);
  }

  /** Whether route v has, or could get, every shared item that order c needs. */
  couldTake(c: number, v: number): boolean {
    const K = this.model.sharedKinds.length;
    for (let k = 0; k < K; k++) {
      if (this.needsItem(c, v, k) && this.uses[v * K + k] === 0 && !this.place(v, k, false)) return false;
    }
    return true;
  }

  take(c: number, v: number): void {
    const K = this.model.sharedKinds.length;
    for (let k = 0; k < K; k++) {
      if (!this.needsItem(c, v, k)) continue;
      if (this.uses[v * K + k] === 0) this.place(v, k, true);
      this.uses[v * K + k] = this.uses[v * K + k]! + 1;
    }
  }

  giveBack(c: number, v: number): void {
    const { sharedKinds, sharedItems, dayCount, dayOf } = this.model;
    const K = sharedKinds.length;
    for (let k = 0; k < K; k++) {
      if (!this.needsItem(c, v, k)) continue;
      this.uses[v * K + k] = this.uses[v * K + k]! - 1;
      if (this.uses[v * K + k]! > 0) continue;
      for (let item = 0; item < sharedItems.length; item++) {
        const cell = item * dayCount + dayOf[v]!;
        if (this.itemKind[item] === k && this.holder[cell] === v) this.holder[cell] = -1;
      }
    }
  }

  /** Ids of the items that route v holds. */
  heldBy(v: number): string[] {
    const { sharedItems, dayCount, dayOf } = this.model;
    return sharedItems.filter((_, i) => this.holder[i * dayCount + dayOf[v]!] === v).map((item) => item.id);
  }

  private needsItem(c: number, v: number, k: number): boolean {
    const { sharedKinds, needsShared, ownsShared } = this.model;
    const K = sharedKinds.length;
    return needsShared[c * K + k] === 1 && ownsShared[v * K + k] === 0;
  }

  private place(v: number, k: number, commit: boolean): boolean {
    this.visited.fill(0);
    return this.augment(v, k, commit);
  }

  private augment(v: number, k: number, commit: boolean): boolean {
    const { sharedItems, crewDayCount, dayCount, dayOf } = this.model;
    for (let item = 0; item < sharedItems.length; item++) {
      if (this.itemKind[item] !== k || this.visited[item] === 1) continue;
      if (this.eligible[item * crewDayCount + v] === 0) continue;
      this.visited[item] = 1;
      const cell = item * dayCount + dayOf[v]!;
      const holder = this.holder[cell]!;
      if (holder === -1 || this.augment(holder, k, commit)) {
        if (commit) this.holder[cell] = v;
        return true;
      }
    }
    return false;
  }
}
