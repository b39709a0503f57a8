// Keys a rehearsal into the engine for the browser, one key in twelve wrong, and prints how long its keys took.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";

const [wasm, glue, file] = process.argv.slice(2);
globalThis.require = createRequire(import.meta.url);
(0, eval)(readFileSync(glue, "utf8"));
const go = new globalThis.Go();
const { instance } = await WebAssembly.instantiate(readFileSync(wasm), go.importObject);
go.run(instance);

const ask = (method, argument) => JSON.parse(globalThis.proofbellEngine(method, JSON.stringify(argument)));
const good = (answer) => {
  if (!answer.ok) throw new Error(JSON.stringify(answer.problem));
  return answer.ok;
};
const timed = (method, argument) => {
  const from = performance.now();
  const answer = ask(method, argument);
  return [performance.now() - from, answer];
};
const { job, entries, others } = JSON.parse(readFileSync(file, "utf8"));
good(ask("job.load", { job, entries }));
const [opening, opened] = timed("rehearse.open", { job, now: "2026-09-15T12:00:00Z" });
let { moment } = good(opened);

const times = [];
let wrong = 0;
let seed = 7;
const draw = (n) => {
  seed = (seed * 48271) % 2147483647; // a small generator: the same keys on every machine
  return seed % n;
};
for (let n = 0; n < 3000 && moment.guide.state !== "done"; n++) {
  const { state, key } = moment.guide;
  const [method, argument] =
    state === "again"
      ? ["rehearse.again", {}]
      : key === "WAIT"
        ? ["rehearse.pass", { seconds: 2 }]
        : ["rehearse.press", { keys: [draw(12) ? key : others[draw(others.length)]], seconds: 0.3 }];
  const [took, answer] = timed(method, argument);
  moment = good(answer);
  if (method === "rehearse.press") times.push(took);
}
wrong = moment.slips;
const empty = [];
for (let n = 0; n < 500; n++) empty.push(timed("rehearse.nothing", {})[0]);
const at = (list, share) => [...list].sort((a, b) => a - b)[Math.min(list.length - 1, Math.floor(list.length * share))];
process.stdout.write(
  JSON.stringify({
    Keys: times.length,
    Wrong: wrong,
    Open: opening,
    Median: at(times, 0.5),
    P99: at(times, 0.99),
    Most: Math.max(...times),
    Empty: at(empty, 0.5),
  }),
);
process.exit(0);
