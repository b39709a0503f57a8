// Times as people read them, in the language of this device. The clock is always an argument.
import { language, many, t } from "./words/words.svelte";

/** The words of a countdown: "1 h 12 left", "12 min left", "0:48 left", and what stands after the end. */
export function left(until: string, now: number): string {
  const seconds = Math.ceil((Date.parse(until) - now) / 1000);
  if (Number.isNaN(seconds)) return t("no end time");
  if (seconds <= 0) return t("time is up");
  const two = (n: number) => String(n % 60).padStart(2, "0");
  if (seconds < 600) return t("{time} left", { time: `${Math.floor(seconds / 60)}:${two(seconds)}` });
  const minutes = Math.floor(seconds / 60);
  if (minutes < 60) return t("{n} min left", { n: minutes });
  return t("{h} h {min} left", { h: Math.floor(minutes / 60), min: two(minutes) });
}

/** How long ago something was: "just now", "12 min ago", "3 h ago", "2 days ago". */
export function ago(at: number, now: number): string {
  const minutes = Math.floor((now - at) / 60_000);
  if (minutes < 1) return t("just now");
  if (minutes < 60) return t("{n} min ago", { n: minutes });
  if (minutes < 1440) return t("{n} h ago", { n: Math.floor(minutes / 60) });
  return many(Math.floor(minutes / 1440), "{n} day ago", "{n} days ago");
}

const formats = new Map<string, Intl.DateTimeFormat>();

function format(zone: string): Intl.DateTimeFormat {
  let known = formats.get(zone);
  if (!known) {
    known = new Intl.DateTimeFormat("en-GB", {
      ...(zone && { timeZone: zone }),
      hourCycle: "h23",
      year: "numeric",
      month: "2-digit",
      day: "2-digit",
      hour: "2-digit",
      minute: "2-digit",
      second: "2-digit",
    });
    formats.set(zone, known);
  }
  return known;
}

/** What a calendar and a clock in `zone` (an IANA name, "" for this device) show at that moment. */
function wall(at: string | number, zone: string): Record<string, string> | undefined {
  const date = new Date(at);
  if (Number.isNaN(date.getTime())) return undefined;
  return Object.fromEntries(
    format(zone)
      .formatToParts(date)
      .map(({ type, value }) => [type, value]),
  );
}

/** Clock time in `zone`, on this device unless it is named, 24 h: "18:04". */
export function hours(at: string, zone = ""): string {
  const w = wall(at, zone);
  return w ? `${w.hour}:${w.minute}` : "";
}

/** Clock time with its seconds: "18:04:31". */
export function seconds(at: string, zone = ""): string {
  const w = wall(at, zone);
  return w ? `${w.hour}:${w.minute}:${w.second}` : "";
}

/** Date in the order that no country misreads, "2026-09-15"; in German "15.09.2026". */
export function day(at: string, zone = ""): string {
  const w = wall(at, zone);
  if (!w) return "";
  return language() === "de" ? `${w.day}.${w.month}.${w.year}` : `${w.year}-${w.month}-${w.day}`;
}

/** "18:04" for today, "2026-09-12, 18:04" for any other day. */
export function when(at: string, now: number, zone = ""): string {
  const today = day(new Date(now).toISOString(), zone) === day(at, zone);
  return today ? hours(at, zone) : `${day(at, zone)}, ${hours(at, zone)}`;
}

/**
 * The next moment after `now` at which a clock in `zone` shows `time` ("18:04"). A time that the change of the clocks
 * leaves out is taken as that much later, as a clock that nobody has set yet would show it.
 */
export function moment(time: string, now: number, zone = ""): string {
  const minute = 60_000;
  const offset = (at: number) => {
    const w = wall(at, zone);
    return w
      ? Date.parse(`${w.year}-${w.month}-${w.day}T${w.hour}:${w.minute}:${w.second}Z`) - Math.floor(at / 1000) * 1000
      : 0;
  };
  const [h = 0, m = 0] = time.split(":").map(Number);
  const midnight = Math.floor((now + offset(now)) / (1440 * minute)) * 1440 * minute;
  for (let days = 0; days <= 2; days++) {
    const shown = midnight + ((days * 24 + h) * 60 + m) * minute;
    // The offsets half a day either side: they differ only where the clocks change between.
    const [before, after] = [offset(shown - 1440 * minute), offset(shown + 1440 * minute)];
    const fits = [before, after].map((by) => shown - by).filter((at) => at + offset(at) === shown);
    const at = (fits.length > 0 ? fits : [shown - before]).toSorted((a, b) => a - b).find((one) => one > now);
    if (at !== undefined) return new Date(at).toISOString();
  }
  return "";
}

/** The short name of `zone`, where its clock shows another time than this device's: "CEST", "GMT+2". Else "". */
export function zoneName(zone: string, now: number): string {
  const at = new Date(now).toISOString();
  if (!zone || when(at, 0, zone) === when(at, 0)) return "";
  return (
    new Intl.DateTimeFormat("en-GB", { timeZone: zone, timeZoneName: "short" })
      .formatToParts(now)
      .find(({ type }) => type === "timeZoneName")?.value ?? zone
  );
}

/** The present moment as entries and the engine want it: UTC, exactly three decimals. */
export function stamp(now = Date.now()): string {
  return new Date(now).toISOString();
}
