// Asks the engine for the browser for the sound of a whole storey, fine and as coarse as while something is dragged, and
// prints the fastest of each in milliseconds: what else runs on the machine only ever adds.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";

const [wasm, glue, file] = process.argv.slice(2);
globalThis.require = createRequire(import.meta.url);
(0, eval)(readFileSync(glue, "utf8"));
const go = new globalThis.Go();
const { instance } = await WebAssembly.instantiate(readFileSync(wasm), go.importObject);
go.run(instance);

const timed = (method, argument) => {
  const text = JSON.stringify(argument);
  const from = performance.now();
  const answer = globalThis.proofbellEngine(method, text);
  const took = performance.now() - from;
  const { ok, problem } = JSON.parse(answer);
  if (problem) throw new Error(JSON.stringify(problem));
  return [took, ok];
};
const { job, entries, patch, calls } = JSON.parse(readFileSync(file, "utf8"));
timed("job.load", { job, entries });
const out = {};
for (const { name, step, runs, moved } of calls) {
  const times = [];
  for (let n = 0; n < runs; n++) {
    const [took, field] = timed("field.map", { job, what: "sound", storey: "g", step, now: "2026-09-15T12:00:00Z", lang: "en", patch: moved ? patch : null });
    times.push(took);
    out[`${name} cells`] = field.w * field.h;
  }
  out[name] = Math.min(...times);
}
process.stdout.write(JSON.stringify(out));
process.exit(0);
