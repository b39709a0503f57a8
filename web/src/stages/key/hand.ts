// The zone in hand with its cards as they were when it was begun: whoever keys it keys these, whatever is edited meanwhile.
import type { Card, Keying, RollBack, Sheet, ZoneCards } from "../../types.gen";

type Slots = Record<string, string>;

export interface Hand {
  /** Its cards key it, or read it back. */
  kind: string;
  /** The profile that its cards were made by. */
  panel: string;
  version: string;
  /** Of the site. */
  id: string;
  identity: string;
  zone: ZoneCards;
  /** What the panel holds when all of its cards are done. */
  slots: Slots;
  /** What the cards take the panel to hold; null: nothing is known, and they key all of it. */
  held: Slots | null;
}

/** Its cards are of the panel and version that the sheet is of. */
export const sameDialogue = (hand: Hand, sheet: Sheet): boolean =>
  hand.panel === sheet.panel && hand.version === sheet.version;

export const cardsOf = ({ kind, zone }: Hand): Card[] => (kind === "check" ? zone.check : zone.cards) ?? [];

/** A zone as the sheet has it now. Undefined: it is not in the schedule. */
export function laidOut(keying: Keying, kind: string, number: string): Hand | undefined {
  const i = (keying.sheet.sheet ?? []).findIndex(({ zone }) => zone === number);
  const zone = keying.sheet.sheet?.[i];
  const state = keying.zones?.[i];
  const { panel, version } = keying.sheet;
  if (zone && state)
    return {
      kind,
      panel,
      version,
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
      panel,
      version,
      id: kept.id,
      identity: "",
      zone: kept.zone,
      slots: kept.slots ?? {},
      held: kept.slots ?? {},
    }
  );
}

/** A zone as the way back to a table as found has it. Undefined: there is nothing to key in it. */
export function laidBack(back: RollBack, number: string): Hand | undefined {
  const i = (back.sheet.sheet ?? []).findIndex(({ zone }) => zone === number);
  const zone = back.sheet.sheet?.[i];
  const { panel, version } = back.sheet;
  return (
    zone && {
      kind: "zone",
      panel,
      version,
      id: "",
      identity: "",
      zone,
      slots: back.slots?.[i] ?? {},
      held: back.held?.[number] ?? null,
    }
  );
}

function same(a: Slots | null, b: Slots | null): boolean {
  if (!a || !b) return a === b;
  const names = Object.keys(a);
  return names.length === Object.keys(b).length && names.every((name) => a[name] === b[name]);
}

/** The book tells something else of the panel than what the cards began from: it is not sure what they led to. */
export function doubtful(hand: Hand, held: Slots | null): boolean {
  const from = hand.kind === "check" ? hand.slots : hand.held;
  return from !== null && !same(from, held);
}

/** A hand with an answer that changed at a card that is still to come; undefined: a card before it would change too, or it is not sure what they led to. */
export function carriedOver(hand: Hand, now: Hand | undefined, index: number): Hand | undefined {
  if (!now || doubtful(hand, now.held)) return undefined;
  const [old, fresh] = [cardsOf(hand), cardsOf(now)];
  const keys = (card: Card | undefined) => `${card?.shows}\n${card?.press?.join(" ")}`;
  if (old.length !== fresh.length || old.some((card, i) => i < index && keys(card) !== keys(fresh[i])))
    return undefined;
  return now;
}
