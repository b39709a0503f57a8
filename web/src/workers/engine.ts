// Runs the Go engine beside the page, so that a long calculation never holds up a tap.
import type { Answer, Question } from "./messages";

declare const self: DedicatedWorkerGlobalScope & {
  /** Set by wasm_exec.js, which comes from the Go toolchain that built the engine. */
  Go?: new () => { importObject: WebAssembly.Imports; run(instance: WebAssembly.Instance): Promise<void> };
  /** Set by the engine (cmd/engine) before its main function waits: JSON in, JSON out, never throws. */
  proofbellEngine?: (method: string, argument: string) => string;
};

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

self.onmessage = async ({ data }: MessageEvent<Question>) => {
  let answer: Answer;
  try {
    const call = await engine;
    answer = { id: data.id, response: call(data.method, data.argument) };
  } catch (reason) {
    answer = { id: data.id, failed: reason instanceof Error ? reason.message : String(reason) };
  }
  self.postMessage(answer);
};
