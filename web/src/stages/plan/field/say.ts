// How the figures of an estimate are written.
import { number, t } from "../../../words/words.svelte";

/** Verdicts, the worst first. */
export const order: readonly string[] = ["too little", "doubtful", "not determined", "enough"];

/** Each verdict in the reader's language, without the figure that was measured: that one is of one row. */
export const verdictWords = (rows: readonly { verdict: string; say: string }[]): ReadonlyMap<string, string> =>
  new Map(rows.map(({ verdict, say }) => [verdict, say.replace(/ \(.*\)$/, "")]));

/** A figure with as many decimals as it takes, or as many as wanted, and a minus that is not a hyphen. */
export const figure = (value: number, decimals = -1): string => number(value, decimals).replace("-", "−");

/** +4.5 dB, −3 dB; nothing for what is not determined. */
export function signed(db: number | null): string {
  if (db === null) return "";
  return `${db < 0 ? "" : "+"}${figure(db, 1)} dB`;
}

/** A level with its unit; a word when it is not determined. */
export function level(value: number | null, unit: string): string {
  return value === null ? t("not determined") : `${figure(value, 1)} ${unit}`;
}

/** What was typed as a number, with a comma or a point; undefined when it is none. */
export function typed(text: string): number | undefined {
  const plain = text.trim().replace(",", ".").replace("−", "-");
  return /^-?\d+(\.\d+)?$/.test(plain) ? Number(plain) : undefined;
}
