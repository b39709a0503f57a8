// Keys a rehearsal inside Chromium, through the worker of the pages as they are built, one key in twelve wrong, and prints how
// long it took from postMessage to the answer. Usage: node page.mjs DIST WORKER JOB.json, from the folder of the project.
import { readFileSync } from "node:fs";
import { createServer } from "node:http";
import { createRequire } from "node:module";
import { extname, join, normalize } from "node:path";

const [dist, worker, file] = process.argv.slice(2);
const { chromium } = createRequire(join(process.cwd(), "web/package.json"))("playwright-core");
const types = { ".js": "text/javascript", ".wasm": "application/wasm", ".json": "application/json", ".html": "text/html" };
const server = createServer((request, response) => {
  const path = normalize(new URL(request.url, "http://x").pathname);
  // Isolated, so that the page's clock has steps of 5 and not of 100 microseconds.
  const headers = { "Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Embedder-Policy": "require-corp" };
  try {
    const body = path === "/" ? "<!doctype html><title>bench</title>" : path === "/job.json" ? readFileSync(file) : readFileSync(join(dist, path));
    response.writeHead(200, { ...headers, "Content-Type": types[extname(path)] ?? "text/html" }).end(body);
  } catch {
    response.writeHead(404, headers).end();
  }
});
await new Promise((ready) => server.listen(0, "127.0.0.1", ready));
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--disable-gpu", ...(process.getuid?.() === 0 ? ["--no-sandbox"] : [])],
});
try {
  const page = await browser.newPage();
  page.on("pageerror", (error) => console.error(error));
  await page.goto(`http://127.0.0.1:${server.address().port}/`);
  const times = await page.evaluate(key, worker);
  process.stdout.write(JSON.stringify(times));
} finally {
  await browser.close();
  server.close();
}

/** Runs in the page. */
async function key(url) {
  const worker = new Worker(url, { type: "module" });
  let done;
  worker.onmessage = ({ data }) => done([performance.now(), data]);
  worker.onerror = ({ message }) => done([performance.now(), { failed: message || "the worker did not load" }]);
  let id = 0;
  const timed = async (method, argument) => {
    const answered = new Promise((resolve) => {
      done = resolve;
    });
    const from = performance.now();
    worker.postMessage({ id: ++id, method, argument: JSON.stringify(argument) });
    const [at, { response, failed }] = await answered;
    if (failed) throw new Error(failed);
    return [at - from, JSON.parse(response)];
  };
  const good = (answer) => {
    if (!answer.ok) throw new Error(JSON.stringify(answer.problem));
    return answer.ok;
  };
  const { job, entries, others } = await (await fetch("/job.json")).json();
  good((await timed("job.load", { job, entries }))[1]);
  const [opening, opened] = await timed("rehearse.open", { job, now: "2026-09-15T12:00:00Z" });
  let { moment } = good(opened);
  const times = [];
  const empty = [];
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
    const [took, answer] = await timed(method, argument);
    moment = good(answer);
    if (method === "rehearse.press") times.push(took);
    if (n % 6 === 0) empty.push((await timed("rehearse.nothing", {}))[0]); // in between, so that both meet the same machine
  }
  const at = (list, share) => [...list].sort((a, b) => a - b)[Math.min(list.length - 1, Math.floor(list.length * share))];
  return {
    Keys: times.length,
    Wrong: moment.slips,
    Open: opening,
    Median: at(times, 0.5),
    P99: at(times, 0.99),
    Most: Math.max(...times),
    Empty: at(empty, 0.5),
  };
}
