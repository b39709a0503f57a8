// What the pages say, in the language of the person who reads them. The English sentence is its own key: {name} stands
// for a value. A sentence without a translation is said in English, and words.test.ts names it.

export const languages = { en: "English", de: "Deutsch" } as const;
export type Language = keyof typeof languages;

const slot = "proofbell.language";

function first(): Language {
  const kept = localStorage.getItem(slot);
  const tag = (kept ?? navigator.language).slice(0, 2).toLowerCase();
  return tag in languages ? (tag as Language) : "en";
}

let tag = $state<Language>("en");
let sentences = $state.raw<Record<string, string>>({});

/** The language of this device: what is shown changes with it at once. */
export function language(): Language {
  return tag;
}

/** Chooses a language for this device. What it says is fetched once and kept with the application. */
export async function speak(chosen: Language, keep = true): Promise<void> {
  sentences = chosen === "de" ? (await import("./de")).default : {};
  tag = chosen;
  document.documentElement.lang = chosen;
  if (keep) localStorage.setItem(slot, chosen);
}

/** The language that was chosen before, or else the browser's own. */
export const begun: Promise<void> = typeof localStorage === "undefined" ? Promise.resolve() : speak(first(), false);

/** One sentence: t("{n} of {all} proved", { n, all }). The first argument must be a literal. */
export function t(english: string, values?: Record<string, string | number>): string {
  const own = sentences[english] ?? english;
  return values ? own.replace(/\{(\w+)\}/g, (whole, name: string) => String(values[name] ?? whole)) : own;
}

/** A sentence for one and one for none or several; {n} is the number. Both must be literals. */
export function many(n: number, one: string, other: string, values?: Record<string, string | number>): string {
  return t(n === 1 ? one : other, { n, ...values });
}

/** A number as it is written in that language: 1.9 or 1,9. Decimals below zero: as many as it takes. */
export function number(value: number, decimals = 0): string {
  return value.toLocaleString(tag, {
    minimumFractionDigits: Math.max(decimals, 0),
    maximumFractionDigits: decimals < 0 ? 3 : decimals,
    useGrouping: false,
  });
}
