// A zone that is being read out, kept on this device over any break.
import type { Seen } from "../../../types.gen";

export interface Halfway {
  zone: string;
  seen: Seen[];
  /** Every answer is looked at, even where a sum agrees. */
  full: boolean;
}

const name = (job: string) => `proofbell.readout.${job}`;

/** What was seen of a zone so far; of another zone nothing counts. */
export function halfway(job: string, zone: string): Halfway {
  try {
    const kept = JSON.parse(localStorage.getItem(name(job)) ?? "{}") as Partial<Halfway>;
    if (kept.zone === zone && Array.isArray(kept.seen)) return { zone, seen: kept.seen, full: kept.full === true };
  } catch {
    // Written by another version, or by hand.
  }
  return { zone, seen: [], full: false };
}

export function keepHalfway(job: string, at: Halfway | undefined): void {
  try {
    if (at) localStorage.setItem(name(job), JSON.stringify(at));
    else localStorage.removeItem(name(job));
  } catch {
    // A full device keeps no half zone: it is read again.
  }
}
