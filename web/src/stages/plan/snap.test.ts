import { describe, expect, test } from "vitest";
import { handleAt, hit } from "./hit";
import { caught, foot, onLine, step, within } from "./snap";
import { laid, pixel } from "./trace";

const p = (X: number, Y: number) => ({ X, Y });
const corners = [p(0, 0), p(4, 0), p(4, 3), p(0, 3)];
const none = { corners: [], lines: [], step: 0.25, reach: 0.2 };

describe("where a finger means to be", () => {
  test("on a corner within reach", () => {
    expect(caught(p(4.1, 2.9), { ...none, corners })).toEqual({ at: p(4, 3), to: "corner", inLine: [] });
  });
  test("in line with a corner on one axis, on the squares on the other", () => {
    expect(caught(p(4.1, 7.6), { ...none, corners })).toEqual({ at: p(4, 7.5), to: "line", inLine: [p(4, 3)] });
  });
  test("on the squares where nothing is near; sums of squares stay plain", () => {
    expect(caught(p(9.9, 9.62), none).at).toEqual(p(10, 9.5));
    expect(caught(p(0.31, 0.29), { ...none, step: 0.1 }).at).toEqual(p(0.3, 0.3));
  });
  test("on a wall, in whole squares from its beginning", () => {
    const lines = [{ a: p(0, 3), b: p(4, 3) }];
    expect(onLine(p(2.1, 3.15), { ...none, lines })).toEqual(p(2, 3));
    expect(onLine(p(2.1, 3.3), { ...none, lines })).toBeUndefined();
    expect(onLine(p(4.1, 3), { ...none, lines })).toEqual(p(4, 3));
  });
  test("squares are no narrower than 5 px, metric and in inches", () => {
    expect([step(200, false), step(40, false), step(4, false)]).toEqual([0.05, 0.25, 1]);
    expect(step(40, true)).toBeCloseTo(0.1524); // 6 in are 6.1 px, 3 in would be 3.0
  });
});

test("a foot is kept within the ends of a line", () => {
  expect(foot(p(-3, 4), { a: p(0, 0), b: p(4, 0) })).toEqual({ at: p(0, 0), off: 5 });
});

test("a room holds what is inside of it", () => {
  expect([within(corners, p(1, 1)), within(corners, p(5, 1))]).toEqual([true, false]);
});

test("under a finger lies a mark before an opening, an opening before a wall, a wall before a room", () => {
  const leaf = {
    id: "door/2",
    kind: "door",
    from: p(1, 0),
    to: p(2, 0),
    hinge: p(1, 0),
    tip: p(1, 1),
    swing: true,
    large: false,
    sweep: true,
  };
  const mark = { id: "m", what: "device", shape: "circle", at: p(1.5, 0.1), text: "", say: "" };
  const plan = {
    storey: "g",
    name: "G",
    min: p(0, 0),
    max: p(4, 3),
    walls: [],
    north: 0,
    scale: 1,
    rooms: [{ id: "r", name: "R", outline: corners, lines: [], label: p(2, 1.5) }],
    leaves: [leaf],
    marks: [mark],
  };
  const walls = [{ id: "w", a: p(0, 0), b: p(4, 0) }];
  expect(hit(plan, walls, p(1.5, 0), 0.3)).toEqual({ what: "device", id: "m" });
  expect(hit({ ...plan, marks: [] }, walls, p(1.5, 0), 0.3)).toEqual({ what: "opening", id: "door" });
  expect(hit(plan, walls, p(3, 0.1), 0.3)).toEqual({ what: "wall", id: "w" });
  expect(hit(plan, walls, p(3, 1), 0.3)).toEqual({ what: "room", id: "r" });
  expect(hit(plan, walls, p(9, 9), 0.3)).toBeUndefined();
});

test("handles of a room are its corners and the middles of its sides", () => {
  expect(handleAt(corners, p(3.9, 0.1), 0.3)).toEqual({ part: "corner", n: 1, at: p(4, 0) });
  expect(handleAt(corners, p(4.1, 1.4), 0.3)).toEqual({ part: "side", n: 1, at: p(4, 1.5) });
});

test("a place on the sheet is a pixel of the picture, turned as well", () => {
  // A picture of 1 cm a pixel, its upper left corner at (2, 5): 100 px right and 200 px down are 1 m right and 2 m down.
  const plain = { blob: "", width: 400, height: 300, at: [2, 5], scale: 0.01 };
  expect(pixel(plain, p(3, 3))).toEqual(p(100, 200));
  expect(laid(plain)).toBe("translate(2 5) rotate(0) scale(0.01 -0.01)");
  // A quarter anticlockwise: right in the picture is up on the sheet, down in the picture is right.
  const turned = pixel({ ...plain, turn: 90 }, p(4, 6));
  expect(turned.X).toBeCloseTo(100);
  expect(turned.Y).toBeCloseTo(200);
});
