// Where one was on the keying sheet and when each card was ticked, kept on this device over any break.
import type { Hand } from "./hand";

const name = (job: string) => `proofbell.keying.${job}`;

/** The address within the stage: ["zone", "09", "4"]. */
export type Place = [kind: string, zone: string, card: string];

export function kept(job: string): Place | undefined {
  const [kind, zone, card] = (localStorage.getItem(name(job)) ?? "").split("/");
  return kind && zone && card ? [kind, zone, card] : undefined;
}

export function keep(job: string, place: Place | undefined): void {
  if (place) localStorage.setItem(name(job), place.join("/"));
  else localStorage.removeItem(name(job));
}

/** The zone in hand as it is keyed. Times in milliseconds since 1970. */
export interface Work {
  /** Programming was begun and not left. */
  begun: boolean;
  zone: string;
  /** When its first card was shown. */
  first: number;
  /** When each card was ticked, since then. */
  ms: number[];
  /** Which cards were ticked: the others were jumped over. */
  ticked: boolean[];
  /** When a key was pressed last, as far as the ticks tell; 0: no zone is in hand. */
  last: number;
  /** Its cards, as they were when it was begun. */
  hand: Hand | null;
}

const nothing: Work = { begun: false, zone: "", first: 0, ms: [], ticked: [], last: 0, hand: null };
const day = 86_400_000;

export function work(job: string): Work {
  try {
    return { ...nothing, ...(JSON.parse(localStorage.getItem(`${name(job)}.work`) ?? "{}") as Partial<Work>) };
  } catch {
    return { ...nothing }; // written by another version, or by hand
  }
}

function note(job: string, work: Work): Work {
  try {
    localStorage.setItem(`${name(job)}.work`, JSON.stringify(work));
  } catch {
    // A full device keeps no times: the zone itself is told by its entry.
  }
  return work;
}

/** A card of a zone is in sight; with its first card the zone begins anew. */
export function seen(job: string, zone: string, index: number, now: number): Work {
  const before = work(job);
  if (before.zone === zone && (index > 0 || before.ms.length === 0)) return before;
  return note(job, {
    ...before,
    zone,
    first: now,
    ms: [],
    ticked: [],
    last: index > 0 ? before.last : 0,
    hand: before.zone === zone ? before.hand : null,
  });
}

/** A card was ticked. A card that is ticked again takes back the times of those behind it. */
export function tick(job: string, zone: string, index: number, now: number): Work {
  const before = seen(job, zone, index, now);
  const at = Math.max(0, now - before.first);
  const ms = before.ms.slice(0, index);
  const ticked = Array.from({ length: index }, (_, i) => before.ticked[i] ?? false);
  while (ms.length < index) ms.push(ms.at(-1) ?? 0); // cards that were jumped over
  ms.push(Math.max(at, ms.at(-1) ?? 0));
  return note(job, { ...before, ms, ticked: [...ticked, true], last: now });
}

/** Keys were pressed that are no answer of the card: back, or the way back. */
export function pressed(job: string, now: number): Work {
  return note(job, { ...work(job), last: now });
}

/** Which of the first so many cards were not ticked, from 0. */
export function skipped({ ticked }: Work, cards: number): number[] {
  return Array.from({ length: cards }, (_, i) => i).filter((i) => !ticked[i]);
}

/** The times of a zone, as its entry tells them; none when the clock of the device was set in between. */
export function times({ ms }: Work): number[] {
  return ms.some((one, i) => one > day || one < (ms[i - 1] ?? 0)) ? [] : ms;
}

/** No zone is in hand any more. */
export function letGo(job: string): Work {
  return note(job, { ...work(job), zone: "", first: 0, ms: [], ticked: [], last: 0, hand: null });
}

/** These are the cards of the zone in hand from here on; null: those that the sheet has when its next card is in sight. */
export function take(job: string, hand: Hand | null): Work {
  return note(job, { ...work(job), hand });
}

export function setBegun(job: string, begun: boolean): Work {
  return note(job, { ...work(job), begun });
}
