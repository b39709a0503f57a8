import { beforeEach, expect, test, vi } from "vitest";
import { letGo, pressed, seen, setBegun, skipped, take, tick, times, work } from "./place";

beforeEach(() => {
  const kept = new Map<string, string>();
  vi.stubGlobal("localStorage", {
    getItem: (key: string) => kept.get(key) ?? null,
    setItem: (key: string, value: string) => void kept.set(key, value),
    removeItem: (key: string) => void kept.delete(key),
  });
});

test("each tick is timed from the first card, and never falls", () => {
  seen("j", "09", 0, 1000);
  tick("j", "09", 0, 3000);
  seen("j", "09", 1, 3100);
  expect(tick("j", "09", 1, 4500).ms).toEqual([2000, 3500]);
  // The clock was set back by a second: the time stays where it was.
  expect(tick("j", "09", 2, 3500).ms).toEqual([2000, 3500, 3500]);
  expect(work("j").last).toBe(3500);
});

test("going back takes back the times behind, a jump takes the time of the card before", () => {
  seen("j", "09", 0, 0);
  for (const [index, at] of [
    [0, 100],
    [1, 200],
    [2, 300],
  ] as const)
    tick("j", "09", index, at);
  expect(tick("j", "09", 1, 900).ms).toEqual([100, 900]);
  expect(tick("j", "09", 4, 1000).ms).toEqual([100, 900, 900, 900, 1000]);
});

test("only what was ticked is ticked", () => {
  seen("j", "30", 2, 0);
  expect(skipped(tick("j", "30", 2, 100), 3)).toEqual([0, 1]);
  expect(skipped(tick("j", "30", 0, 200), 3)).toEqual([1, 2]);
  tick("j", "30", 1, 300);
  expect(skipped(tick("j", "30", 2, 400), 3)).toEqual([]);
  expect(skipped(letGo("j"), 3)).toEqual([0, 1, 2]);
});

test("a zone that is begun again is timed anew", () => {
  seen("j", "09", 0, 0);
  tick("j", "09", 0, 500);
  expect(seen("j", "09", 0, 60_000)).toMatchObject({ first: 60_000, ms: [], last: 0 });
  expect(tick("j", "09", 0, 61_000).ms).toEqual([1000]);
  expect(seen("j", "10", 0, 70_000)).toMatchObject({ zone: "10", ms: [] });
});

test("what was begun stays begun over zones, and a zone let go of has no last key", () => {
  setBegun("j", true);
  tick("j", "09", 0, 5);
  pressed("j", 9);
  expect(work("j").last).toBe(9);
  expect(letGo("j")).toEqual({ begun: true, zone: "", first: 0, ms: [], ticked: [], last: 0, hand: null });
  expect(work("other").begun).toBe(false);
});

test("the cards of a zone last until it is let go of, or another one is in sight", () => {
  const hand = {
    kind: "zone",
    panel: "ladder",
    version: "1.0",
    id: "9",
    identity: "",
    zone: { zone: "09", kind: "fire" },
    slots: {},
    held: null,
  };
  seen("j", "09", 0, 0);
  take("j", hand);
  tick("j", "09", 0, 5);
  expect(seen("j", "09", 1, 6).hand).toEqual(hand);
  expect(seen("j", "10", 0, 7).hand).toBeNull();
  take("j", hand);
  expect(letGo("j").hand).toBeNull();
});

test("times longer than a day are none", () => {
  seen("j", "09", 0, 0);
  expect(times(tick("j", "09", 0, 90_000_000))).toEqual([]);
});
