// What a search over the jobs of this device goes by: the index that the engine makes of each job.
import { address } from "../router.svelte";
import { ask } from "../sync/api";
import { store } from "../sync/store";
import type { FindLine } from "../types.gen";

export interface Hit {
  job: string;
  name: string;
  line: FindLine;
}

/** The call-out to what was found. */
export function callOut(job: string, about: string): string {
  const keys = about.split("/").filter(Boolean);
  return address(job, "look", "call", ...keys.map((key) => key.replaceAll("~1", "/").replaceAll("~0", "~")));
}

/** A token as people type it: small letters, without its dash, O for 0, I or L for 1. Empty for anything else. */
export function token(text: string): string {
  const plain = text.toUpperCase().replace(/[-\s]/g, "").replaceAll("O", "0").replace(/[IL]/g, "1");
  return /^[0-9A-HJKMNP-TV-Z]{8}$/.test(plain) ? `${plain.slice(0, 4)}-${plain.slice(4)}` : "";
}

async function lines(): Promise<Hit[]> {
  const jobs = await store.jobs();
  return jobs.flatMap(({ job, name, index }) => (index ?? []).map((line) => ({ job, name, line })));
}

/** Finds by words that all occur, or by the token of a sticker. A job itself comes before its things. */
export async function find(text: string, most = 20): Promise<Hit[]> {
  const wanted = token(text);
  const words = text.toLowerCase().split(/\s+/).filter(Boolean);
  if (words.length === 0) return [];
  const hits = (await lines()).filter(({ name, line }) => {
    if (wanted && line.token === wanted) return true;
    const said = `${name} ${line.say} ${line.more}`.toLowerCase();
    return words.every((word) => said.includes(word));
  });
  return hits.toSorted((a, b) => Number(b.line.about === "") - Number(a.line.about === "")).slice(0, most);
}

/** Where a sticker leads: on this device, or else by the server. Rejects with Problem. */
export async function resolve(code: string): Promise<string> {
  const here = (await lines()).find(({ line }) => line.token === code);
  if (here) return callOut(here.job, here.line.about);
  const found = await ask<{ job: string; about: string }>("GET", `/api/stickers/${encodeURIComponent(code)}`);
  return callOut(found.job, found.about);
}
