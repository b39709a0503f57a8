// Putting a drawing on the screen: the shapes come from the engine in metres, here they only get their place in pixels.
import type { PlanLeaf, Point } from "../types";

/** What of the storey is on the screen: the middle in metres, and pixels per metre. */
export interface View {
  x: number;
  y: number;
  k: number;
}

/** Corners of a shape as an SVG path, in metres. */
export function outline(points: readonly Point[] | null): string {
  return !points?.length ? "" : `M${points.map((p) => `${p.X} ${p.Y}`).join("L")}Z`;
}

/** A door's leaf and the arc of its swing, in metres with y up. */
export function swing(leaf: PlanLeaf): string {
  const { hinge, tip, from, to } = leaf;
  const near = (a: Point, b: Point) => (a.X - b.X) ** 2 + (a.Y - b.Y) ** 2;
  const other = near(from, hinge) > near(to, hinge) ? from : to;
  const r = Math.sqrt(near(hinge, tip));
  return `M${hinge.X} ${hinge.Y}L${tip.X} ${tip.Y}A${r} ${r} 0 ${Number(leaf.large)} ${Number(leaf.sweep)} ${other.X} ${other.Y}`;
}

/** The view that shows the whole storey, but no smaller than `least` pixels per metre. */
export function whole(min: Point, max: Point, width: number, height: number, least = 0): View {
  const k = Math.min((width - 48) / Math.max(max.X - min.X, 1), (height - 88) / Math.max(max.Y - min.Y, 1));
  const view = { x: (min.X + max.X) / 2, y: (min.Y + max.Y) / 2, k: Math.max(k, least, 1) };
  // Too large for the screen: begin at the left, where reading begins.
  if (view.k * (max.X - min.X) > width - 48) view.x = min.X + (width / 2 - 24) / view.k;
  return view;
}

/** Keeps the middle of the screen on the storey. */
export function kept(view: View, min: Point, max: Point): View {
  const clamp = (v: number, low: number, high: number) => Math.min(Math.max(v, low), high);
  return { x: clamp(view.x, min.X, max.X), y: clamp(view.y, min.Y, max.Y), k: clamp(view.k, 4, 400) };
}

/** Zooms by `factor` about a place on the screen given from its middle, in pixels. */
export function zoomed(view: View, factor: number, dx = 0, dy = 0): View {
  const k = Math.min(Math.max(view.k * factor, 4), 400);
  return { x: view.x + dx / view.k - dx / k, y: view.y - dy / view.k + dy / k, k };
}

export interface Spot {
  x: number;
  y: number;
}

/**
 * Moves marks apart that would cover each other, as a draughtsman does; the caller draws a thin line back to the true
 * place. `apart` is the least distance of two middles in pixels. Deterministic; marks that stand free stay put.
 */
export function spread(spots: readonly Spot[], apart: number, rounds = 60): Spot[] {
  const out = spots.map((spot) => ({ ...spot }));
  for (let round = 0; round < rounds; round++) {
    let moved = false;
    for (const [i, a] of out.entries()) {
      for (const [j, b] of out.entries()) {
        if (j <= i) continue;
        let dx = b.x - a.x;
        let dy = b.y - a.y;
        let distance = Math.hypot(dx, dy);
        if (distance >= apart - 0.5) continue;
        if (distance < 0.01) {
          // The same place: leave in a direction of their own.
          dx = Math.cos(i + 2 * j);
          dy = Math.sin(i + 2 * j);
          distance = 1;
        }
        const push = (apart - Math.min(distance, apart)) / 2 / distance;
        a.x -= dx * push;
        a.y -= dy * push;
        b.x += dx * push;
        b.y += dy * push;
        moved = true;
      }
    }
    if (!moved) break;
  }
  return out;
}

/** A box on the screen. */
export interface Box {
  left: number;
  top: number;
  right: number;
  bottom: number;
}

/** How much of the marks a name at this place covers, square pixels. `r` is the half width of a mark. */
export function covered(box: Box, spots: readonly Spot[], r: number): number {
  return spots.reduce((sum, s) => {
    const across = Math.min(box.right, s.x + r) - Math.max(box.left, s.x - r);
    const down = Math.min(box.bottom, s.y + r) - Math.max(box.top, s.y - r);
    return across > 0 && down > 0 ? sum + across * down : sum;
  }, 0);
}

/** Of several places for a name the first that covers least of the marks. */
export function clearest(boxes: readonly Box[], spots: readonly Spot[], r: number): number {
  let best = 0;
  let least = Number.POSITIVE_INFINITY;
  for (const [i, box] of boxes.entries()) {
    const marks = covered(box, spots, r);
    if (marks < least) [best, least] = [i, marks];
  }
  return best;
}

/** Breaks a name into lines of at most `most` letters, at spaces; a longer word stands alone. */
export function lines(name: string, most: number): string[] {
  const out: string[] = [];
  for (const word of name.split(" ")) {
    const last = out.at(-1);
    if (last !== undefined && last.length + 1 + word.length <= most) out[out.length - 1] = `${last} ${word}`;
    else out.push(word);
  }
  return out;
}

/** The length of the scale bar: as the engine gives it in metres, or a round number of feet near it. */
export function bar(metres: number, imperial: boolean): { metres: number; words: string } {
  if (!imperial) return { metres, words: `${metres} m` };
  const feet = metres / 0.3048;
  const unit = 10 ** Math.floor(Math.log10(feet));
  const round = [5, 2, 1].map((n) => n * unit).find((n) => n <= feet) ?? unit;
  return { metres: round * 0.3048, words: `${round} ft` };
}

/** The shape of a kind of device about its middle, in pixels at the size of a mark of radius 14. */
export function shape(kind: string): string {
  const around = (n: number, size: number, turn: number) =>
    Array.from({ length: n }, (_, i) => {
      const a = turn + (i * 2 * Math.PI) / n;
      return `${(size * Math.cos(a)).toFixed(2)} ${(size * Math.sin(a)).toFixed(2)}`;
    }).join("L");
  switch (kind) {
    case "triangle":
      return "M0 -17L17 12L-17 12Z";
    case "square":
      return `M-13 -13H13V13H-13Z`;
    case "segment":
      return "M-17 9A17 17 0 0 1 17 9Z";
    case "hexagon":
      return `M${around(6, 16, 0)}Z`;
    case "pentagon":
      return `M${around(5, 16, -Math.PI / 2)}Z`;
    case "cross":
      return "M-6 -15H6V-6H15V6H6V15H-6V6H-15V-6H-6Z";
    default:
      return "M-14 0A14 14 0 1 1 14 0A14 14 0 1 1 -14 0Z";
  }
}
