// The zone in hand with its cards as they were when it was begun: whoever keys it keys these, whatever is edited meanwhile.
import type { Card, Keying, ZoneCards } from "../../types.gen";

export interface Hand {
  /** Its cards key it, or read it back. */
  kind: string;
  /** The panel and the version of its profile. */
  panel: string;
  /** Of the site. */
  id: string;
  identity: string;
  zone: ZoneCards;
  /** What the panel holds when all of its cards are done. */
  slots: Record<string, string>;
  /** What the cards take the panel to hold; null: nothing is known, and they key all of it. */
  held: Record<string, string> | null;
}

export const panelOf = (keying: Keying): string => `${keying.panel} ${keying.sheet.version}`;

export const cardsOf = ({ kind, zone }: Hand): Card[] => (kind === "check" ? zone.check : zone.cards) ?? [];

/** A zone as the sheet has it now. Undefined: it is not in the schedule. */
export function laidOut(keying: Keying, kind: string, number: string): Hand | undefined {
  const i = (keying.sheet.sheet ?? []).findIndex(({ zone }) => zone === number);
  const zone = keying.sheet.sheet?.[i];
  const state = keying.zones?.[i];
  if (zone && state)
    return {
      kind,
      panel: panelOf(keying),
      id: state.id,
      identity: state.identity,
      zone,
      slots: state.slots ?? {},
      held: state.held,
    };
  const kept = keying.kept?.find((one) => one.zone.zone === number);
  return (
    kept && {
      kind,
      panel: panelOf(keying),
      id: kept.id,
      identity: "",
      zone: kept.zone,
      slots: kept.slots ?? {},
      held: kept.slots ?? {},
    }
  );
}

function same(a: Record<string, string> | null, b: Record<string, string> | null): boolean {
  if (!a || !b) return a === b;
  const names = Object.keys(a);
  return names.length === Object.keys(b).length && names.every((name) => a[name] === b[name]);
}

/** The book tells something else of the panel than what the cards began from: it is not sure what they led to. */
export function doubtful(hand: Hand, now: Hand | undefined): boolean {
  const from = hand.kind === "check" ? hand.slots : hand.held;
  return from !== null && !same(from, now?.held ?? null);
}

/** A hand with an answer that changed at a card that is still to come; undefined: a card before it would change too. */
export function carriedOver(hand: Hand, now: Hand | undefined, index: number): Hand | undefined {
  const [old, fresh] = [cardsOf(hand), now ? cardsOf(now) : []];
  const keys = (card: Card | undefined) => `${card?.shows}\n${card?.press?.join(" ")}`;
  if (old.length !== fresh.length || old.some((card, i) => i < index && keys(card) !== keys(fresh[i])))
    return undefined;
  return now;
}
