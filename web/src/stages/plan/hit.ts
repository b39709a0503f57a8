// What lies under a finger: marks first, then openings, walls and rooms.
import type { Plan, Point } from "../../types";
import { foot, type Line, within } from "./snap";

export interface Held {
  what: "room" | "wall" | "opening" | "device" | "head";
  id: string;
}

export const same = (a: Held | undefined, b: Held | undefined) => a?.what === b?.what && a?.id === b?.id;

/** A wall by its middle line. */
export interface WallLine extends Line {
  id: string;
}

const far = (a: Point, b: Point) => Math.hypot(a.X - b.X, a.Y - b.Y);

/** The mark nearest to a place, within reach. */
export function markAt(plan: Plan, at: Point, reach: number): Held | undefined {
  let best: Held | undefined;
  let least = reach;
  for (const mark of plan.marks ?? []) {
    if (far(mark.at, at) <= least) {
      least = far(mark.at, at);
      best = { what: mark.what === "head" ? "head" : "device", id: mark.id };
    }
  }
  return best;
}

/** The room that a place is in; of several the smallest, as drawn last. */
export const roomAt = (plan: Plan, at: Point) => (plan.rooms ?? []).findLast((room) => within(room.outline ?? [], at));

/** What is meant by a tap. `reach` is a fingertip in metres. */
export function hit(plan: Plan, walls: readonly WallLine[], at: Point, reach: number): Held | undefined {
  const mark = markAt(plan, at, reach);
  if (mark) return mark;
  for (const leaf of plan.leaves ?? []) {
    // A pair of leaves is one opening.
    if (foot(at, { a: leaf.from, b: leaf.to }).off <= reach * 0.8)
      return { what: "opening", id: leaf.id.replace(/\/\d+$/, "") };
  }
  for (const wall of walls) {
    if (foot(at, wall).off <= reach * 0.5) return { what: "wall", id: wall.id };
  }
  const room = roomAt(plan, at);
  return room && { what: "room", id: room.id };
}

/** A handle of the room in hand: one of its corners, or the middle of the side that begins there. */
export interface Handle {
  part: "corner" | "side";
  n: number;
  at: Point;
}

export function handles(outline: readonly Point[]): Handle[] {
  const corners = outline.map((at, n): Handle => ({ part: "corner", n, at }));
  const sides = outline.map((a, n): Handle => {
    const b = outline[(n + 1) % outline.length] ?? a;
    return { part: "side", n, at: { X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2 } };
  });
  return [...corners, ...sides];
}

export function handleAt(outline: readonly Point[], at: Point, reach: number): Handle | undefined {
  let best: Handle | undefined;
  for (const one of handles(outline)) {
    if (far(one.at, at) <= reach && (!best || far(one.at, at) < far(best.at, at))) best = one;
  }
  return best;
}
