// How the picture that is traced lies under the sheet, and which of its pixels is under a finger.
import type { Point, Tracing } from "../../types";

const metres = (value: string | number | undefined) => Number.parseFloat(String(value ?? 0));

/** The transform from pixels (x right, y down, from the upper left corner) to metres (y up). */
export function laid({ at, scale, turn }: Tracing): string {
  const s = scale ?? 0.01;
  return `translate(${metres(at?.[0])} ${metres(at?.[1])}) rotate(${turn ?? 0}) scale(${s} ${-s})`;
}

/** The pixel of the picture that lies at a place. */
export function pixel({ at, scale, turn }: Tracing, point: Point): Point {
  const a = ((turn ?? 0) * Math.PI) / 180;
  const [dx, dy] = [point.X - metres(at?.[0]), point.Y - metres(at?.[1])];
  const s = scale ?? 0.01;
  return { X: (dx * Math.cos(a) + dy * Math.sin(a)) / s, Y: -(dy * Math.cos(a) - dx * Math.sin(a)) / s };
}
