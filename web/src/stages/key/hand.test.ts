import { expect, test } from "vitest";
import type { Card, Keying, RollBack } from "../../types.gen";
import { cardsOf, carriedOver, doubtful, type Hand, laidBack, laidOut, sameDialogue } from "./hand";

const card = (shows: string, ...press: string[]) => ({ n: 1, of: 1, shows, press }) as Card;
const cards = [card("ZONE?", "09", "OK"), card("PLACE?", "1", "OK"), card("KEEP?", "999", "OK")];
const hand = (more: Partial<Hand> = {}): Hand => ({
  kind: "zone",
  panel: "ladder",
  version: "1.0",
  id: "09",
  identity: "",
  zone: { zone: "09", kind: "fire", cards, check: [card("ZONE?", "09", "OK")] },
  slots: { area: "A" },
  held: null,
  ...more,
});

test("a zone is found on the sheet, or among those that the panel holds as wanted", () => {
  const keying = {
    sheet: { panel: "ladder", version: "1.0", sheet: [hand().zone] },
    zones: [{ id: "9", keyed: false, identity: "BR 00101 3", slots: { area: "A" }, held: { area: "B" } }],
    kept: [
      {
        id: "10",
        zone: { zone: "10", kind: "fire", check: [card("ZONE?", "10", "OK")] },
        slots: { area: "C" },
        checked: false,
      },
    ],
  } as unknown as Keying;
  expect(laidOut(keying, "zone", "09")).toMatchObject({
    id: "9",
    panel: "ladder",
    version: "1.0",
    slots: { area: "A" },
    held: { area: "B" },
  });
  const ten = laidOut(keying, "check", "10");
  expect(ten).toMatchObject({ id: "10", held: { area: "C" } });
  expect(ten && cardsOf(ten).length).toBe(1);
  expect(laidOut(keying, "zone", "77")).toBeUndefined();
});

test("a zone of the way back begins from what the book holds, and is of one version of one panel", () => {
  const sheet = { panel: "ladder", version: "1.0", sheet: [hand().zone] };
  const back = { sheet, slots: [{ area: "B" }], held: { "09": { area: "A" } } } as unknown as RollBack;
  expect(laidBack(back, "09")).toMatchObject({
    kind: "zone",
    version: "1.0",
    slots: { area: "B" },
    held: { area: "A" },
  });
  expect(laidBack({ ...back, held: null }, "09")?.held).toBeNull();
  expect(laidBack(back, "10")).toBeUndefined();
  expect(sameDialogue(hand(), back.sheet)).toBe(true);
  expect(sameDialogue(hand(), { ...back.sheet, version: "1.1" })).toBe(false);
});

test("cards that key all of a zone lead to it whatever stood there; others only from what they began with", () => {
  expect(doubtful(hand(), { area: "B" })).toBe(false);
  const edits = hand({ held: { area: "B", kind: "S" } });
  expect(doubtful(edits, { kind: "S", area: "B" })).toBe(false);
  expect(doubtful(edits, { area: "B" })).toBe(true);
  expect(doubtful(edits, null)).toBe(true);
  expect(doubtful(hand({ held: {} }), {})).toBe(false);
});

test("what is read back has to be what the book still holds", () => {
  const reading = hand({ kind: "check", held: { area: "A" } });
  expect(doubtful(reading, { area: "A" })).toBe(false);
  expect(doubtful(reading, null)).toBe(true);
});

test("an answer still to come may change, one that was given may not", () => {
  const other = hand({ zone: { ...hand().zone, cards: cards.with(1, card("PLACE?", "2", "OK")) } });
  expect(carriedOver(hand(), other, 1)).toBe(other);
  expect(carriedOver(hand(), other, 2)).toBeUndefined();
  expect(carriedOver(hand(), hand({ zone: { ...hand().zone, cards: [] } }), 0)).toBeUndefined();
  expect(carriedOver(hand(), undefined, 0)).toBeUndefined();
  const edits = hand({ held: { area: "B" } });
  expect(carriedOver(edits, { ...other, held: { area: "B" } }, 1)).toBeDefined();
  expect(carriedOver(edits, { ...other, held: null }, 1)).toBeUndefined();
});
