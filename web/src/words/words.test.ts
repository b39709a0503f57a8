// Every sentence of the pages has its German with the same values, none is left over, and no text stands in a page
// that does not go through t().
import { parse } from "svelte/compiler";
import { describe, expect, test } from "vitest";

/** Folders and files whose text does not go through t() yet. Only ever gets shorter. */
const untranslated: string[] = [];

const files = import.meta.glob<string>("../**/*.{svelte,ts}", { query: "?raw", import: "default", eager: true });
const sources = Object.entries(files)
  .map(([path, text]) => ({ name: path.startsWith("../") ? path.slice(3) : path.replace("./", "words/"), text }))
  .filter(({ name }) => !/\.test\.ts$|\.gen\.ts$/.test(name));

const literal = String.raw`"((?:[^"\\]|\\.)*)"`;
const unquote = (raw: string) => JSON.parse(`"${raw}"`) as string;

function said(): Map<string, string> {
  const out = new Map<string, string>();
  for (const { name, text } of sources) {
    for (const [, one] of text.matchAll(new RegExp(String.raw`\b(?:t|mark)\(\s*${literal}`, "g")))
      out.set(unquote(one ?? ""), name);
    for (const [, one, other] of text.matchAll(
      new RegExp(String.raw`\bmany\(\s*[^"]*?,\s*${literal},\s*${literal}`, "g"),
    )) {
      out.set(unquote(one ?? ""), name);
      out.set(unquote(other ?? ""), name);
    }
  }
  return out;
}

const german = new Map<string, { own: string; file: string }>();
const parts = import.meta.glob<Record<string, string>>("./de/*.json", { import: "default", eager: true });
for (const [file, part] of Object.entries(parts)) {
  for (const [english, own] of Object.entries(part)) {
    const before = german.get(english);
    if (before && before.own !== own) throw new Error(`${file} and ${before.file} differ on "${english}"`);
    german.set(english, before ?? { own, file });
  }
}

const values = (sentence: string) => [...sentence.matchAll(/\{(\w+)\}/g)].map(([, name]) => name).sort();

describe("German", () => {
  test("has every sentence of the pages", () => {
    const missing = [...said()]
      .filter(([english]) => !german.has(english))
      .map(([english, name]) => `${name}: ${english}`);
    expect(missing).toEqual([]);
  });
  test("has no sentence that nobody says", () => {
    const now = said();
    expect(
      [...german].filter(([english]) => !now.has(english)).map(([english, { file }]) => `${file}: ${english}`),
    ).toEqual([]);
  });
  test("keeps the values of each sentence", () => {
    const wrong = [...german].filter(([english, { own }]) => values(english).join() !== values(own).join());
    expect(wrong.map(([english]) => english)).toEqual([]);
  });
});

/** Text that stands in a page as it is: between tags, or in an attribute that is read out. */
function bare(text: string): string[] {
  const found: string[] = [];
  const spoken = new Set(["aria-label", "title", "placeholder", "alt", "label", "lead"]);
  const wordy = (s: string) => /\p{L}{2}/u.test(s.replaceAll("Proofbell", "")); // a name is the same everywhere
  const look = (node: unknown): void => {
    if (Array.isArray(node)) {
      for (const one of node) look(one);
      return;
    }
    if (typeof node !== "object" || node === null) return;
    const { type, name, data, value } = node as { type?: string; name?: string; data?: string; value?: unknown };
    if (type === "StyleSheet" || type === "Script" || type === "StyleDirective") return;
    if (type === "Text" && data !== undefined && wordy(data)) found.push(data.trim());
    if (type === "Attribute") {
      const parts = Array.isArray(value) ? (value as { type: string; data?: string }[]) : [];
      for (const part of parts) {
        if (part.type === "Text" && spoken.has(name ?? "") && wordy(part.data ?? ""))
          found.push(`${name}="${part.data}"`);
      }
      return;
    }
    for (const part of Object.values(node)) look(part);
  };
  look(parse(text, { modern: true }).fragment);
  return found;
}

describe("no text of a page stands outside of t()", () => {
  for (const { name, text } of sources.filter(({ name }) => name.endsWith(".svelte"))) {
    if (untranslated.some((prefix) => name.startsWith(prefix))) continue;
    test(name, () => expect(bare(text)).toEqual([]));
  }
  test("the finder finds", () => {
    expect(bare('<p title="over there">Hello {t("you")} <b>1</b></p>')).toEqual(['title="over there"', "Hello"]);
  });
});
