// Where things stand on a timeline: pure figures for Timeline.svelte. Times are Unix seconds.
import type { Lane, TimeMark } from "../../../types";

/** What is seen: from and to. */
export interface Span {
  from: number;
  to: number;
}

const day = 86_400;
/** No closer than this: what is closer together is one thing to a person. */
export const closest = 120;

/** Zooms by a factor (under 1: closer) about a moment, and stays within the whole. */
export function zoomed(seen: Span, whole: Span, factor: number, about = (seen.from + seen.to) / 2): Span {
  const all = Math.max(whole.to - whole.from, closest);
  const width = Math.min(all, Math.max(closest, (seen.to - seen.from) * factor));
  const share = (about - seen.from) / Math.max(1, seen.to - seen.from);
  return held({ from: about - share * width, to: about - share * width + width }, whole);
}

/** Moves by seconds, and stays within the whole. */
export function moved(seen: Span, whole: Span, by: number): Span {
  return held({ from: seen.from + by, to: seen.to + by }, whole);
}

function held(span: Span, whole: Span): Span {
  const width = span.to - span.from;
  const from = Math.max(whole.from, Math.min(span.from, Math.max(whole.from, whole.to - width)));
  return { from, to: from + width };
}

/** A little air on both sides, so that the first and the last mark are not cut. */
export function wholeOf(from: number, to: number): Span {
  const air = Math.max(closest / 2, (to - from) * 0.01);
  return { from: from - air, to: to + air };
}

const parts = new Map<string, Intl.DateTimeFormat>();

/** How far the clock in the zone is ahead of UTC at that moment, seconds. */
export function offset(at: number, zone: string): number {
  let format = parts.get(zone);
  if (!format) {
    format = new Intl.DateTimeFormat("en-GB", {
      timeZone: zone || "UTC",
      hourCycle: "h23",
      year: "numeric",
      month: "2-digit",
      day: "2-digit",
      hour: "2-digit",
      minute: "2-digit",
      second: "2-digit",
    });
    parts.set(zone, format);
  }
  const w = Object.fromEntries(format.formatToParts(at * 1000).map(({ type, value }) => [type, Number(value)]));
  const shown = Date.UTC(w.year ?? 0, (w.month ?? 1) - 1, w.day ?? 1, w.hour ?? 0, w.minute ?? 0, w.second ?? 0) / 1000;
  return shown - Math.floor(at);
}

export interface Tick {
  at: number;
  /** What to write there: a clock time, a day or a month. */
  is: "time" | "day" | "month" | "year";
}

const steps = [60, 300, 900, 1800, 3600, 3 * 3600, 6 * 3600, 12 * 3600, day, 2 * day, 7 * day];
const monthSteps = [1, 2, 3, 6, 12, 24, 60];

/** The lines of the scale, about `apart` seconds from each other, at round times of the zone's clock. */
export function ticks(seen: Span, zone: string, apart: number): Tick[] {
  const out: Tick[] = [];
  const step = steps.find((s) => s >= apart);
  if (step !== undefined) {
    // Round in civil time, and put right where the clocks change.
    const ahead = offset(seen.from, zone);
    for (let c = Math.ceil((seen.from + ahead) / step) * step; out.length < 200; c += step) {
      const at = c - offset(c - ahead, zone);
      if (at > seen.to) break;
      if (at >= seen.from) out.push({ at, is: step < day && c % day !== 0 ? "time" : "day" });
    }
    return out;
  }
  const months = monthSteps.find((m) => m * 30.4 * day >= apart) ?? 120;
  const first = new Date((seen.from + offset(seen.from, zone)) * 1000);
  let n = first.getUTCFullYear() * 12 + first.getUTCMonth();
  n -= n % months;
  for (; out.length < 200; n += months) {
    const c = Date.UTC(Math.floor(n / 12), n % 12, 1) / 1000;
    const at = c - offset(c, zone);
    if (at > seen.to) break;
    if (at >= seen.from) out.push({ at, is: n % 12 === 0 || months >= 12 ? "year" : "month" });
  }
  return out;
}

/** Marks of one manner that fall on the same few pixels, as one. */
export interface Blot {
  x: number;
  n: number;
}

/** What of a lane is to be drawn: by manner, in pixels, nothing closer than `near` pixels. */
export function blots(lane: Lane, from: number, seen: Span, width: number, near = 3): Map<string, Blot[]> {
  const out = new Map<string, Blot[]>();
  const scale = width / (seen.to - seen.from);
  for (const mark of inView(lane, from, seen)) {
    const x = (from + mark.at - seen.from) * scale;
    const list = out.get(mark.is) ?? [];
    out.set(mark.is, list);
    const last = list.at(-1);
    if (last && x - last.x < near) last.n += mark.n;
    else list.push({ x, n: mark.n });
  }
  return out;
}

/** The marks of a lane within a span. Marks are in order of time. */
export function inView(lane: Lane, from: number, seen: Span): TimeMark[] {
  const marks = lane.marks ?? [];
  const find = (at: number) => {
    let [low, high] = [0, marks.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (from + (marks[middle]?.at ?? 0) < at) low = middle + 1;
      else high = middle;
    }
    return low;
  };
  return marks.slice(find(seen.from), find(seen.to + 1e-6));
}
