// Runs the Go engine beside the page, so that a long calculation never holds up a tap.
import type { Answer, Question } from "./messages";

declare const self: DedicatedWorkerGlobalScope & {
  /** Set by wasm_exec.js, which comes from the Go toolchain that built the engine. */
  Go?: new () => { importObject: WebAssembly.Imports; run(instance: WebAssembly.Instance): Promise<void> };
  /** Set by the engine (cmd/engine) before its main function waits: JSON in, JSON out, never throws. */
  proofbellEngine?: (method: string, argument: string) => string;
  /** Set with it: hands over what a language says, as JSON. Returns what is wrong, or nothing. */
  proofbellWords?: (tag: string, sentences: string) => string;
};

// English is in the engine. Another language is a file of its own, for those who speak it.
const languages: Record<string, () => Promise<{ default: Record<string, string> }>> = {
  de: () => import("../words/program-de"),
};
const learned = new Set<string>();

/** Teaches the engine a language once. With no signal and no kept file it goes on in English, and is asked again. */
async function learn(tag: string): Promise<void> {
  const fetched = learned.has(tag) ? undefined : await languages[tag]?.().catch(() => undefined);
  if (!fetched) return;
  const wrong = self.proofbellWords?.(tag, JSON.stringify(fetched.default));
  if (wrong) throw new Error(wrong);
  learned.add(tag);
}

async function start(): Promise<(method: string, argument: string) => string> {
  const runtime = "/wasm_exec.js";
  await import(/* @vite-ignore */ runtime);
  if (!self.Go) throw new Error("wasm_exec.js did not load");
  const go = new self.Go();
  const { instance } = await WebAssembly.instantiateStreaming(fetch("/engine.wasm"), go.importObject);
  const ended = go.run(instance).then(() => {
    throw new Error("the engine stopped: reload the page");
  });
  // run() returns at the engine's first wait, with its entry in place.
  if (!self.proofbellEngine) await ended;
  ended.catch((reason: unknown) => console.error(reason));
  if (!self.proofbellEngine) throw new Error("the engine set no entry");
  return self.proofbellEngine;
}

const engine = start();

async function answer({ id, method, argument, lang }: Question): Promise<Answer> {
  try {
    const call = await engine;
    // The headings of a table are read in every language.
    for (const tag of method === "table.read" ? Object.keys(languages) : [lang ?? ""]) await learn(tag);
    return { id, response: call(method, argument) };
  } catch (reason) {
    return { id, failed: reason instanceof Error ? reason.message : String(reason) };
  }
}

// One after the other: what is fetched for one question must not let the next one overtake it.
let last: Promise<void> = Promise.resolve();
self.onmessage = ({ data }: MessageEvent<Question>) => {
  last = last.then(async () => self.postMessage(await answer(data)));
};
