// Times as people read them. Pure: the clock is always an argument.

/** The words of a countdown: "1 h 12 left", "12 min left", "0:48 left", and what stands after the end. */
export function left(until: string, now: number): string {
  const seconds = Math.ceil((Date.parse(until) - now) / 1000);
  if (Number.isNaN(seconds)) return "no end time";
  if (seconds <= 0) return "time is up";
  if (seconds < 600) return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")} left`;
  const minutes = Math.floor(seconds / 60);
  if (minutes < 60) return `${minutes} min left`;
  return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")} left`;
}

const two = (n: number) => String(n).padStart(2, "0");

/** Clock time on this device, 24 h: "18:04". */
export function hours(at: string): string {
  const t = new Date(at);
  return Number.isNaN(t.getTime()) ? "" : `${two(t.getHours())}:${two(t.getMinutes())}`;
}

/** Date on this device in the order that no country misreads: "2026-09-15". */
export function day(at: string): string {
  const t = new Date(at);
  return Number.isNaN(t.getTime()) ? "" : `${t.getFullYear()}-${two(t.getMonth() + 1)}-${two(t.getDate())}`;
}

/** "18:04" for today, "2026-09-12, 18:04" for any other day. */
export function when(at: string, now: number): string {
  const today = day(new Date(now).toISOString()) === day(at);
  return today ? hours(at) : `${day(at)}, ${hours(at)}`;
}

/** The present moment as entries and the engine want it: UTC, exactly three decimals. */
export function stamp(now = Date.now()): string {
  return new Date(now).toISOString();
}
