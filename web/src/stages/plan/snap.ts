// Where a finger means to be: on a corner, in line with one, on a wall, or on the next square. The engine gets what was meant.
import type { Point } from "../../types";

export interface Line {
  a: Point;
  b: Point;
}

/** What a place may be drawn to. */
export interface Catches {
  corners: readonly Point[];
  /** Middle lines of walls and sides of rooms. */
  lines: readonly Line[];
  /** Width of a square, metres. */
  step: number;
  /** How near counts, metres. */
  reach: number;
}

export interface Caught {
  at: Point;
  /** What it was drawn to. A place in line with corners has the corners. */
  to: "corner" | "line" | "square";
  inLine: Point[];
}

const far = (a: Point, b: Point) => Math.hypot(a.X - b.X, a.Y - b.Y);

/** Rounded to a tenth of a millimetre, so that sums of squares stay plain numbers. */
export const plain = (metres: number) => Math.round(metres * 1e4) / 1e4;

/** The foot of p on a line, kept within its ends, with the distance. */
export function foot(p: Point, { a, b }: Line): { at: Point; off: number } {
  const [dx, dy] = [b.X - a.X, b.Y - a.Y];
  const square = dx * dx + dy * dy;
  const t = square === 0 ? 0 : Math.min(Math.max(((p.X - a.X) * dx + (p.Y - a.Y) * dy) / square, 0), 1);
  const at = { X: a.X + t * dx, Y: a.Y + t * dy };
  return { at, off: far(p, at) };
}

/** Draws a place to the nearest corner; else in line with corners, across and up by themselves; else to the squares. */
export function caught(p: Point, { corners, step, reach }: Catches): Caught {
  let nearest: Point | undefined;
  for (const corner of corners) {
    if (far(p, corner) <= reach && (!nearest || far(p, corner) < far(p, nearest))) nearest = corner;
  }
  if (nearest) return { at: nearest, to: "corner", inLine: [] };
  const along = (axis: "X" | "Y") => {
    let best: Point | undefined;
    for (const corner of corners) {
      const off = Math.abs(corner[axis] - p[axis]);
      const other = best ? Math.abs(best[axis] - p[axis]) : reach;
      // Of several in the same line the one close by is shown.
      if (off < other - 1e-9 || (best && off <= other + 1e-9 && far(corner, p) < far(best, p))) best = corner;
    }
    return best;
  };
  const square = (metres: number) => plain(Math.round(metres / step) * step);
  const [x, y] = [along("X"), along("Y")];
  const inLine = [x, y].filter((corner) => corner !== undefined);
  return { at: { X: x?.X ?? square(p.X), Y: y?.Y ?? square(p.Y) }, to: inLine.length > 0 ? "line" : "square", inLine };
}

/** The place on the nearest line within reach, measured from its beginning in whole squares. */
export function onLine(p: Point, { lines, step, reach }: Catches): Point | undefined {
  let best: { at: Point; off: number; line: Line } | undefined;
  for (const line of lines) {
    const found = foot(p, line);
    if (found.off <= reach && (!best || found.off < best.off)) best = { ...found, line };
  }
  if (!best) return undefined;
  const { a, b } = best.line;
  const length = far(a, b);
  if (length === 0) return a;
  const along = Math.min(Math.round(far(a, best.at) / step) * step, length);
  return { X: plain(a.X + ((b.X - a.X) * along) / length), Y: plain(a.Y + ((b.Y - a.Y) * along) / length) };
}

/** Squares that fit the scale of the screen: no narrower than a fingertip can tell apart. */
export function step(pixelsPerMetre: number, imperial: boolean): number {
  const inch = 0.0254;
  const steps = imperial ? [inch, 3 * inch, 6 * inch, 12 * inch, 60 * inch] : [0.05, 0.1, 0.25, 0.5, 1];
  return steps.find((metres) => metres * pixelsPerMetre >= 5) ?? 1;
}

/** Whether a place is within a room: even-odd rule. */
export function within(outline: readonly Point[], at: Point): boolean {
  let odd = false;
  for (const [i, a] of outline.entries()) {
    const b = outline[(i + 1) % outline.length] ?? a;
    if (a.Y > at.Y !== b.Y > at.Y && at.X < ((b.X - a.X) * (at.Y - a.Y)) / (b.Y - a.Y) + a.X) odd = !odd;
  }
  return odd;
}
