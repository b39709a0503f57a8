// The stops one at a time: which one is shown stays while the list changes under it.
import type { FindingRow } from "../../types";

export class StopWalk {
  /** The one that is shown. */
  shown = $state.raw<FindingRow>();
  /** Height that it took before it was mended. */
  height = $state(0);
  mended = $state(false);
  readonly #all: () => readonly FindingRow[];

  constructor(all: () => readonly FindingRow[]) {
    this.#all = all;
  }

  /** The one that is shown, as it stands; undefined when it stands no more. */
  get now(): FindingRow | undefined {
    const key = this.shown?.key;
    return key === undefined ? this.#all()[0] : this.#all().find((stop) => stop.key === key);
  }

  get place(): number {
    return this.#all().findIndex((stop) => stop.key === this.now?.key);
  }

  /** The one after it; undefined when there is no other. */
  get next(): FindingRow | undefined {
    const all = this.#all();
    const next = all[this.now && !this.mended ? (this.place + 1) % all.length : 0];
    return this.now && next?.key === this.now.key ? undefined : next;
  }

  mend = (finding: FindingRow, height: number): void => {
    this.shown = finding;
    this.height = height;
    this.mended = true;
  };

  go = (): void => {
    const next = this.next;
    this.mended = false;
    this.shown = next;
  };
}
