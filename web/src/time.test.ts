import { expect, it } from "vitest";
import { left, stamp } from "./time";

const now = Date.parse("2026-09-15T18:00:00.000Z");
const after = (seconds: number) => new Date(now + seconds * 1000).toISOString();

it.each([
  [4320, "1 h 12 left"],
  [7200, "2 h 00 left"],
  [3599, "59 min left"],
  [600, "10 min left"],
  [599, "9:59 left"],
  [48, "0:48 left"],
  [1, "0:01 left"],
  [0, "time is up"],
  [-5, "time is up"],
])("%d s before the end reads %s", (seconds, words) => {
  expect(left(after(seconds), now)).toBe(words);
});

it("does not invent a countdown for a broken time", () => {
  expect(left("", now)).toBe("no end time");
});

it("stamps with exactly three decimals in UTC", () => {
  expect(stamp(now)).toBe("2026-09-15T18:00:00.000Z");
});
