// From a field's cells to shapes on the drawing. What each cell is worth was computed by the engine.
import type { FieldView, Point } from "../../../types";

/** The four tints of a field, from the faintest. Fields of fewer bands begin further up, so that the highest is always the darkest. */
export type Tint = 1 | 2 | 3 | 4;

export function tint(band: number, bands: number): Tint {
  return Math.min(Math.max(4 - (bands - 1 - band), 1), 4) as Tint;
}

/** The bytes of a field's cells. */
export function cells(base64: string): Uint8Array {
  const text = atob(base64);
  const out = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i++) out[i] = text.charCodeAt(i);
  return out;
}

/** Which way an edge leads from a corner of the grid: right, up, left, down. */
const ways = [
  [1, 0],
  [0, 1],
  [-1, 0],
  [0, -1],
] as const;

/**
 * The outlines of all cells that hold `band`, as an SVG path in metres; to be filled by the even-odd rule. Cells that
 * touch are one shape, so that no seam shows between them.
 */
export function bandPath(values: Uint8Array, band: number, { w, h, step, min }: FieldView): string {
  const inside = (x: number, y: number) => x >= 0 && y >= 0 && x < w && y < h && values[y * w + x] === band;
  // Of each corner the ways in which an edge leaves it, a bit each; the cells lie at the left hand.
  const out = new Uint8Array((w + 1) * (h + 1));
  const mark = (x: number, y: number, way: number) => {
    const at = y * (w + 1) + x;
    out[at] = (out[at] ?? 0) | (1 << way);
  };
  for (let y = 0; y < h; y++) {
    for (let x = 0; x < w; x++) {
      if (!inside(x, y)) continue;
      if (!inside(x, y - 1)) mark(x, y, 0);
      if (!inside(x + 1, y)) mark(x + 1, y, 1);
      if (!inside(x, y + 1)) mark(x + 1, y + 1, 2);
      if (!inside(x - 1, y)) mark(x, y + 1, 3);
    }
  }
  const [x0 = 0, y0 = 0] = min;
  const metres = (n: number) => Math.round(n * 1000) / 1000;
  let path = "";
  for (let start = 0; start < out.length; start++) {
    while (out[start]) {
      let at = start;
      let before = -1;
      let open = "M";
      do {
        const bits = out[at] ?? 0;
        const way = before >= 0 && bits & (1 << before) ? before : 31 - Math.clz32(bits & -bits);
        out[at] = bits & ~(1 << way);
        const [x, y] = [at % (w + 1), Math.floor(at / (w + 1))];
        if (way !== before) {
          path += `${open}${metres(x0 + x * step)} ${metres(y0 + y * step)}`;
          open = "L";
        }
        before = way;
        const [dx, dy] = ways[way] ?? ways[0];
        at = (y + dy) * (w + 1) + x + dx;
      } while (at !== start);
      path += "Z";
    }
  }
  return path;
}

/** A line of points in metres as an SVG path. */
export function linePath(line: readonly number[][] | null, closed: boolean): string {
  return line?.length ? `M${line.map((point) => point.join(" ")).join("L")}${closed ? "Z" : ""}` : "";
}

/** What should not be covered: a middle with half a width and half a height, metres. */
export interface Taken {
  at: Point;
  wide: number;
  high: number;
}

/**
 * How long a line is, and the place on it that is furthest from the edges of all that should not be covered; metres. `free` is below 0
 * where every place of the line lies on something.
 */
export function clearest(
  line: readonly number[][] | null,
  avoid: readonly Taken[],
): { at: Point; length: number; free: number } {
  const points = (line ?? []).map(([X = 0, Y = 0]) => ({ X, Y }));
  let length = 0;
  let at = points[0] ?? { X: 0, Y: 0 };
  let free = Number.NEGATIVE_INFINITY;
  for (const [i, point] of points.entries()) {
    const before = points[i - 1] ?? point;
    length += Math.hypot(point.X - before.X, point.Y - before.Y);
    const near = Math.min(
      ...avoid.map((one) => Math.max(Math.abs(point.X - one.at.X) - one.wide, Math.abs(point.Y - one.at.Y) - one.high)),
    );
    if (near > free) [at, free] = [point, near];
  }
  return { at, length, free };
}
