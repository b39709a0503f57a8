import { describe, expect, test } from "vitest";
import type { FieldView } from "../../../types";
import { bandPath, cells, clearest, linePath, tint } from "./bands";

const grid = (w: number, h: number): FieldView => ({ w, h, step: 0.5, min: [10, 20] }) as FieldView;

/** Area of a path by the even-odd rule, for paths of whole cells: a ray to the right from the middle of each. */
function filled(path: string, { w, h, step, min }: FieldView): number[] {
  const loops = path
    .split("Z")
    .filter(Boolean)
    .map((loop) => [...loop.matchAll(/[ML]([\d.]+) ([\d.]+)/g)].map(([, x, y]) => [Number(x), Number(y)] as const));
  const inside: number[] = [];
  for (let n = 0; n < w * h; n++) {
    const x = (min[0] ?? 0) + ((n % w) + 0.5) * step;
    const y = (min[1] ?? 0) + (Math.floor(n / w) + 0.5) * step;
    let odd = 0;
    for (const loop of loops) {
      for (const [i, [ax, ay]] of loop.entries()) {
        const [, by] = loop[(i + 1) % loop.length] ?? [0, 0];
        if (ax > x && ay > y !== by > y) odd ^= 1;
      }
    }
    inside.push(odd);
  }
  return inside;
}

describe("outline of a band", () => {
  test("one cell is a square in metres, once round", () => {
    expect(bandPath(Uint8Array.of(255, 2, 255, 255), 2, grid(2, 2))).toBe("M10.5 20L11 20L11 20.5L10.5 20.5Z");
  });
  test("what touches is one shape with only its corners", () => {
    expect(bandPath(Uint8Array.of(1, 1, 1, 1, 1, 1), 1, grid(3, 2))).toBe("M10 20L11.5 20L11.5 21L10 21Z");
  });
  test("a ring leaves its hole, and cells that touch at a corner stay what they are", () => {
    for (const cells of [
      [1, 1, 1, 1, 0, 1, 1, 1, 1],
      [1, 0, 1, 0, 1, 0, 1, 0, 1],
      [0, 1, 0, 1, 0, 1, 0, 1, 0],
      [0, 0, 0, 0, 0, 0, 0, 0, 0],
    ])
      expect(filled(bandPath(Uint8Array.from(cells), 1, grid(3, 3)), grid(3, 3)), cells.join()).toEqual(cells);
  });
});

test("the highest band has the darkest tint, however many there are", () => {
  expect([0, 1, 2, 3].map((band) => tint(band, 4))).toEqual([1, 2, 3, 4]);
  expect([0, 1].map((band) => tint(band, 2))).toEqual([3, 4]);
  expect([0, 1, 5].map((band) => tint(band, 6))).toEqual([1, 1, 4]);
});

test("bytes of the cells", () => expect([...cells("AAECA/8=")]).toEqual([0, 1, 2, 3, 255]));

test("a line is written where it is furthest from what it would cover", () => {
  const line = [
    [0, 0],
    [4, 0],
    [4, 3],
  ];
  const small = { wide: 0, high: 0 };
  expect(clearest(line, [{ at: { X: 0, Y: 1 }, ...small }])).toEqual({ at: { X: 4, Y: 0 }, length: 7, free: 4 });
  // A name 4 m wide over the upper end: the lower right corner is 2.5 m below its edge, and nearer to nothing else.
  expect(
    clearest(line, [
      { at: { X: 0, Y: 1 }, ...small },
      { at: { X: 4, Y: 3 }, wide: 2, high: 0.5 },
    ]),
  ).toEqual({ at: { X: 4, Y: 0 }, length: 7, free: 2.5 });
  expect(clearest(line, [{ at: { X: 2, Y: 1 }, wide: 9, high: 9 }]).free).toBeLessThan(0);
  expect(linePath(line, true)).toBe("M0 0L4 0L4 3Z");
  expect(linePath(null, false)).toBe("");
});
