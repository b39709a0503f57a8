import { describe, expect, test } from "vitest";
import { blots, inView, moved, offset, ticks, wholeOf, zoomed } from "./timeline";

const whole = { from: 0, to: 1_000_000 };
const utc = (text: string) => Date.parse(text) / 1000;

describe("zooming", () => {
  test("keeps the moment under the finger where it is", () => {
    const closer = zoomed(whole, whole, 0.5, 250_000);
    expect(closer).toEqual({ from: 125_000, to: 625_000 });
  });
  test("stays within the whole and no closer than two minutes", () => {
    expect(zoomed(whole, whole, 4)).toEqual(whole);
    const near = zoomed({ from: 0, to: 200 }, whole, 0.01, 0);
    expect(near).toEqual({ from: 0, to: 120 });
    expect(moved({ from: 100, to: 300 }, whole, -500)).toEqual({ from: 0, to: 200 });
    expect(moved({ from: 100, to: 300 }, whole, 9e9)).toEqual({ from: 999_800, to: 1_000_000 });
  });
  test("one event alone has some air", () => {
    expect(wholeOf(500, 500)).toEqual({ from: 440, to: 560 });
  });
});

describe("the scale", () => {
  test("shows midnights of the site, also where its clock changes", () => {
    // Toronto: four hours behind until 2026-11-01 06:00 UTC, then five.
    expect(offset(utc("2026-10-31T12:00:00Z"), "America/Toronto")).toBe(-4 * 3600);
    expect(offset(utc("2026-11-02T12:00:00Z"), "America/Toronto")).toBe(-5 * 3600);
    const seen = { from: utc("2026-10-31T00:00:00Z"), to: utc("2026-11-03T12:00:00Z") };
    expect(ticks(seen, "America/Toronto", 80_000).map(({ at }) => new Date(at * 1000).toISOString())).toEqual([
      "2026-10-31T04:00:00.000Z",
      "2026-11-01T04:00:00.000Z",
      "2026-11-02T05:00:00.000Z",
      "2026-11-03T05:00:00.000Z",
    ]);
  });
  test("goes over to months and names January by its year", () => {
    const seen = { from: utc("2025-11-10T00:00:00Z"), to: utc("2026-03-10T00:00:00Z") };
    expect(ticks(seen, "UTC", 20 * 86_400)).toEqual([
      { at: utc("2025-12-01T00:00:00Z"), is: "month" },
      { at: utc("2026-01-01T00:00:00Z"), is: "year" },
      { at: utc("2026-02-01T00:00:00Z"), is: "month" },
      { at: utc("2026-03-01T00:00:00Z"), is: "month" },
    ]);
  });
});

describe("marks", () => {
  const mark = (at: number, is = "alarm", n = 1) => ({ at, is, n, line: 1, say: "" });
  const lane = { label: "", marks: [mark(0), mark(100), mark(110, "fault", 4), mark(112), mark(5000)] };
  test("outside of what is seen are left out", () => {
    expect(inView(lane, 1000, { from: 1100, to: 1112 }).map(({ at }) => at)).toEqual([100, 110, 112]);
  });
  test("on the same pixels are one, and count", () => {
    const drawn = blots(lane, 0, { from: 0, to: 10_000 }, 1000);
    expect(drawn.get("alarm")).toEqual([
      { x: 0, n: 1 },
      { x: 10, n: 2 },
      { x: 500, n: 1 },
    ]);
    expect(drawn.get("fault")).toEqual([{ x: 11, n: 4 }]);
  });
});
