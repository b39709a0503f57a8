// A zone that is being read out, or put back as it was found, kept on this device over any break.
import type { Seen } from "../../../types.gen";
import type { Hand } from "../hand";

export interface Halfway {
  /** The profile in whose terms it is read. */
  panel: string;
  version: string;
  zone: string;
  /** When the book was told of the zone last before it was begun. */
  since: string;
  seen: Seen[];
  /** When a key was pressed last, as far as the taps tell: milliseconds since 1970; 0: no zone is in hand. */
  last: number;
  /** Every answer is looked at, even where a sum agrees. */
  full: boolean;
}

const name = (job: string) => `proofbell.readout.${job}`;

export const begun = (panel: string, version: string, zone: string): Halfway => ({
  panel,
  version,
  zone,
  since: "",
  seen: [],
  last: 0,
  full: false,
});

/** What was seen of a zone so far; of another zone, and in the terms of another profile, nothing counts. */
export function halfway(job: string, panel: string, version: string, zone: string): Halfway {
  const fresh = begun(panel, version, zone);
  try {
    const kept = JSON.parse(localStorage.getItem(name(job)) ?? "{}") as Partial<Halfway>;
    const same = kept.zone === zone && kept.panel === panel && kept.version === version;
    if (same && Array.isArray(kept.seen) && typeof kept.since === "string")
      return { ...fresh, since: kept.since, seen: kept.seen, last: kept.last ?? 0, full: kept.full === true };
  } catch {
    // Written by another version, or by hand.
  }
  return fresh;
}

export function keepHalfway(job: string, at: Halfway | undefined): void {
  try {
    if (at) localStorage.setItem(name(job), JSON.stringify(at));
    else localStorage.removeItem(name(job));
  } catch {
    // A full device keeps no half zone: it is read again.
  }
}

/** A zone that gets what was found in it. Its cards count from 0, those that read it back behind those that key it. */
export interface PutBack {
  /** The table as found. */
  table: string;
  hand: Hand;
  n: number;
  /** When a key was pressed last, as far as the ticks tell: milliseconds since 1970; absent: no zone is in hand yet. */
  last?: number;
  /** The card at which the panel showed something else last; -1: it never did. */
  lost: number;
  /** The way back that is in sight. */
  way: { shown: string; step: number; anew: boolean } | null;
}

const slot = (job: string) => `proofbell.putback.${job}`;

export function putBack(job: string, table: string): PutBack | undefined {
  try {
    const kept = JSON.parse(localStorage.getItem(slot(job)) ?? "null") as PutBack | null;
    if (kept?.table === table && kept.hand) return kept;
  } catch {
    // Written by another version, or by hand.
  }
  return undefined;
}

export function keepPutBack(job: string, at: PutBack | undefined): void {
  try {
    if (at) localStorage.setItem(slot(job), JSON.stringify(at));
    else localStorage.removeItem(slot(job));
  } catch {
    // A full device keeps no zone in hand: it is begun again.
  }
}
