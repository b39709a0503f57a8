import { describe, expect, it } from "vitest";
import { bar, clearest, kept, lines, outline, spread, swing, whole, zoomed } from "./plan";

const p = (X: number, Y: number) => ({ X, Y });

it("draws outlines in order and closes them", () => {
  expect(outline([p(0, 0), p(6, 0), p(6, 5)])).toBe("M0 0L6 0L6 5Z");
  expect(outline([])).toBe("");
});

it("swings a leaf from its tip to the jamb without the hinge", () => {
  const leaf = {
    id: "d",
    kind: "door",
    from: p(0, 0),
    to: p(1, 0),
    hinge: p(1, 0),
    tip: p(1, 1),
    swing: true,
    large: false,
    sweep: true,
  };
  expect(swing(leaf)).toBe("M1 0L1 1A1 1 0 0 1 0 0");
});

describe("whole", () => {
  it("fits the longer side", () => {
    expect(whole(p(0, 0), p(27, 9), 27 * 20 + 48, 1000)).toEqual({ x: 13.5, y: 4.5, k: 20 });
  });
  it("begins at the left when the storey is larger than the screen", () => {
    const view = whole(p(0, 0), p(27, 9), 390, 320, 20);
    expect(view.k).toBe(20);
    // 24 px of margin at the left of the leftmost wall.
    expect((0 - view.x) * view.k + 390 / 2).toBeCloseTo(24);
  });
});

it("zooms about the finger: what was under it stays under it", () => {
  const before = { x: 10, y: 5, k: 20 };
  const after = zoomed(before, 2, 100, -50);
  const under = (v: typeof before) => [v.x + 100 / v.k, v.y + 50 / v.k];
  expect(under(after)[0]).toBeCloseTo(under(before)[0] ?? 0);
  expect(under(after)[1]).toBeCloseTo(under(before)[1] ?? 0);
  expect(after.k).toBe(40);
});

it("does not lose the storey", () => {
  expect(kept({ x: 99, y: -9, k: 9999 }, p(0, 0), p(27, 9))).toEqual({ x: 27, y: 0, k: 400 });
});

describe("spread", () => {
  it("leaves free marks alone", () => {
    const spots = [
      { x: 0, y: 0 },
      { x: 40, y: 0 },
    ];
    expect(spread(spots, 30)).toEqual(spots);
  });
  it("parts marks that cover each other, even at the same place", () => {
    const spots = Array.from({ length: 8 }, (_, i) => ({ x: 100 + (i % 3), y: 50 }));
    const out = spread(spots, 28);
    for (const [i, a] of out.entries()) {
      for (const b of out.slice(i + 1)) expect(Math.hypot(a.x - b.x, a.y - b.y)).toBeGreaterThan(20);
    }
  });
});

it("puts a name where it covers the fewest marks, the first of equals", () => {
  const box = (top: number) => ({ left: 0, right: 100, top, bottom: top + 20 });
  const spots = [
    { x: 50, y: 10 },
    { x: 60, y: 12 },
    { x: 50, y: 110 },
  ];
  expect(clearest([box(0), box(100), box(200), box(300)], spots, 5)).toBe(2);
  expect(clearest([box(0), box(100)], spots, 5)).toBe(1);
});

it("breaks names at spaces", () => {
  expect(lines("Lounge with wood stove", 12)).toEqual(["Lounge with", "wood stove"]);
  expect(lines("Kitchen", 3)).toEqual(["Kitchen"]);
});

it("gives the scale bar a round length in either unit", () => {
  expect(bar(5, false)).toEqual({ metres: 5, words: "5 m" });
  expect(bar(5, true).words).toBe("10 ft");
  expect(bar(5, true).metres).toBeCloseTo(3.048);
});
