import { expect, it } from "vitest";
import { day, hours, left, moment, stamp, when, zoneName } from "./time";

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

// Rules of the time zone database: Europe/Berlin is UTC+1, from 2026-03-29 01:00Z to 2026-10-25 01:00Z UTC+2. Pacific/Kiritimati is
// UTC+14 and America/St_Johns UTC-3:30 in winter, so that no machine is in all of them.
it.each([
  ["2026-09-15T18:00:00.000Z", "Europe/Berlin", "2026-09-15", "20:00"],
  ["2026-09-15T18:00:00.000Z", "Pacific/Kiritimati", "2026-09-16", "08:00"],
  ["2026-12-15T02:00:00.000Z", "America/St_Johns", "2026-12-14", "22:30"],
])("at %s a clock in %s shows %s, %s", (at, zone, date, time) => {
  expect([day(at, zone), hours(at, zone)]).toEqual([date, time]);
  expect(when(at, Date.parse(at), zone)).toBe(time);
});

it.each([
  ["20:30", "2026-09-15T18:00:00Z", "Europe/Berlin", "2026-09-15T18:30:00.000Z"],
  ["19:30", "2026-09-15T18:00:00Z", "Europe/Berlin", "2026-09-16T17:30:00.000Z"],
  ["00:15", "2026-09-15T21:50:00Z", "Europe/Berlin", "2026-09-15T22:15:00.000Z"],
  ["08:00", "2026-09-15T18:00:00Z", "Pacific/Kiritimati", "2026-09-16T18:00:00.000Z"],
  ["23:00", "2026-12-15T02:00:00Z", "America/St_Johns", "2026-12-15T02:30:00.000Z"],
  // The clocks go forward: 02:30 is never shown.
  ["03:30", "2026-03-29T00:30:00Z", "Europe/Berlin", "2026-03-29T01:30:00.000Z"],
  ["02:30", "2026-03-29T00:30:00Z", "Europe/Berlin", "2026-03-29T01:30:00.000Z"],
  // The clocks go back: 02:30 is shown twice, and the next of them is meant.
  ["02:30", "2026-10-25T00:00:00Z", "Europe/Berlin", "2026-10-25T00:30:00.000Z"],
  ["02:30", "2026-10-25T00:45:00Z", "Europe/Berlin", "2026-10-25T01:30:00.000Z"],
  ["03:15", "2026-10-25T00:45:00Z", "Europe/Berlin", "2026-10-25T02:15:00.000Z"],
])("the next %s after %s in %s is %s", (time, from, zone, at) => {
  expect(moment(time, Date.parse(from), zone)).toBe(at);
});

it("names the zone only where its clock is another than this device's", () => {
  const own = Intl.DateTimeFormat().resolvedOptions().timeZone;
  expect(zoneName(own, now)).toBe("");
  const names = ["Pacific/Kiritimati", "America/St_Johns"].map((zone) => zoneName(zone, now));
  expect(names.filter((name) => name !== "").length).toBeGreaterThan(0);
});
