// What every browser test stands on: the real program on free ports of this machine, and Debian's Chromium.
// A test that prints an error to the page's console fails, unless it said that the network would be gone.
import assert from "node:assert/strict";
import { spawn, spawnSync } from "node:child_process";
import { once } from "node:events";
import { existsSync } from "node:fs";
import { mkdir, mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { createInterface } from "node:readline";
import { after } from "node:test";
import { fileURLToPath } from "node:url";
import axe from "axe-core";
import { chromium } from "playwright-core";

const root = fileURLToPath(new URL("../../", import.meta.url));
const program = process.env.PROOFBELL ?? join(root, "bin/proofbell");

/** The two screens that each page is held against. */
export const views = {
  phone: { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true, deviceScaleFactor: 2 },
  desk: { viewport: { width: 1440, height: 900 } },
};

const ends = new WeakMap();

/** Undoes things in reverse: a page is closed before the server that it talks to. */
function atEnd(t, undo) {
  if (!ends.has(t)) {
    ends.set(t, []);
    t.after(async () => {
      for (const one of ends.get(t).reverse()) await one();
    });
  }
  ends.get(t).push(undo);
}

/** Runs the program once and returns { code, stdout, stderr }. `input` goes to its standard input. */
export async function run(args, input = "") {
  const child = spawn(program, args, { stdio: "pipe" });
  const out = { stdout: "", stderr: "" };
  for (const name of ["stdout", "stderr"]) {
    child[name].setEncoding("utf8").on("data", (text) => {
      out[name] += text;
    });
  }
  child.stdin.end(input);
  const [code] = await once(child, "close");
  return { code, ...out };
}

/**
 * Starts `proofbell serve` on free ports with an empty data folder and waits until it has printed its addresses.
 * The result: url, signals ("127.0.0.1:port"), data (the folder), log (all it printed), stop(), kill() and
 * restart(), which comes back at the same ports on the same data, as after a power cut. Ends with the test.
 */
export async function serve(t, { args = ["--demo"], data } = {}) {
  assert.ok(existsSync(program), `${program} is missing: tools/build makes it`);
  const own = data === undefined;
  const server = {
    data: data ?? (await mkdtemp(join(tmpdir(), "proofbell-"))),
    log: "",
    url: "",
    signals: "",
    lan: "",
    trust: "",
  };
  let child;

  const start = async (listen, signals) => {
    child = spawn(program, ["serve", "--listen", listen, "--signals", signals, "--data", server.data, ...args], {
      stdio: ["ignore", "pipe", "pipe"],
    });
    const printed = withResolvers();
    const found = { url: "", signals: "", lan: "", trust: "" };
    const lan = args.includes("--lan");
    const read = (line) => {
      server.log += `${line}\n`;
      found.url ||= line.match(/\bhttps?:\/\/127\.0\.0\.1:\d+/)?.[0] ?? "";
      found.signals ||= line.match(/signals?\b.*?\b(127\.0\.0\.1:\d+)/i)?.[1] ?? "";
      found.lan ||= line.match(/^Local network\s+(\S+)/)?.[1] ?? "";
      found.trust ||= line.match(/^Certificate\s+(\S+)/)?.[1] ?? "";
      if (found.url && found.signals && (!lan || (found.lan && found.trust))) printed.resolve();
    };
    createInterface(child.stdout).on("line", read);
    createInterface(child.stderr).on("line", read);
    const bound = setTimeout(
      () => printed.reject(new Error(`serve printed no addresses in 20 s:\n${server.log}`)),
      20_000,
    );
    child.once("error", printed.reject);
    child.once("exit", (code) =>
      printed.reject(new Error(`serve ended with ${code} before it was ready:\n${server.log}`)),
    );
    await printed.promise.finally(() => clearTimeout(bound));
    Object.assign(server, found);
  };
  const end = async (signal) => {
    if (child.exitCode !== null || child.signalCode !== null) return;
    const gone = once(child, "exit");
    child.kill(signal);
    await atMost(15, gone);
    child.kill("SIGKILL"); // does nothing to one that has ended
    await atMost(5, gone);
  };

  server.stop = () => end("SIGTERM");
  server.kill = () => end("SIGKILL");
  server.restart = () => start(new URL(server.url).host, server.signals);
  atEnd(t, async () => {
    await server.stop();
    if (own) await rm(server.data, { recursive: true, force: true });
  });
  await start("127.0.0.1:0", "127.0.0.1:0");
  return server;
}

// Promise.withResolvers needs a newer Node than we ask for.
function withResolvers() {
  const out = {};
  out.promise = new Promise((resolve, reject) => Object.assign(out, { resolve, reject }));
  return out;
}

let launched;
after(async () => {
  if (launched) await atMost(15, (await launched).close());
});

function launch(more = {}) {
  return chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    headless: true,
    ...more,
    args: [
      ...(process.getuid?.() === 0 ? ["--no-sandbox"] : []), // Chromium refuses to run its sandbox as root
      ..."--disable-gpu --disable-quic --no-first-run --disable-background-networking".split(" "),
      ..."--disable-component-update --disable-sync".split(" "),
      ..."--use-fake-ui-for-media-stream --use-fake-device-for-media-stream".split(" "),
      ...(more.args ?? []),
    ],
  });
}

function browser() {
  launched ??= launch();
  return launched;
}

/** A browser that also trusts a certificate authority (a PEM file), as a phone does after its owner said so. */
export async function trusting(t, authority) {
  const home = await mkdtemp(join(tmpdir(), "proofbell-home-"));
  const base = join(home, ".pki", "nssdb");
  await mkdir(base, { recursive: true });
  const tool = (...args) => {
    const { status, stderr } = spawnSync("certutil", args, { encoding: "utf8" });
    assert.equal(status, 0, `certutil (Debian: libnss3-tools): ${stderr}`);
  };
  tool("-N", "-d", `sql:${base}`, "--empty-password");
  tool("-A", "-d", `sql:${base}`, "-n", "proofbell", "-t", "C,,", "-i", authority);
  const one = await launch({ env: { ...process.env, HOME: home } });
  atEnd(t, async () => {
    await atMost(15, one.close());
    await rm(home, { recursive: true, force: true });
  });
  return one;
}

/** A browser whose camera sees a film: JPEG pictures one behind the other (mjpeg). */
export async function filming(t, pictures) {
  const home = await mkdtemp(join(tmpdir(), "proofbell-film-"));
  const film = join(home, "film.mjpeg");
  await writeFile(film, Buffer.concat(pictures));
  const one = await launch({ args: [`--use-file-for-fake-video-capture=${film}`] });
  atEnd(t, async () => {
    await atMost(15, one.close());
    await rm(home, { recursive: true, force: true });
  });
  return one;
}

/**
 * Opens a browser of its own kind (cookies and stores apart from every other) and one page in it.
 * `view` is one of views, `dark` the colour scheme, `on` another browser than the common one. Set page.networkMayFail = true before going offline, and
 * page.requestMayBeRefused = true before sending what the server must refuse.
 */
export async function open(t, url, { view = views.phone, dark = false, on, ...more } = {}) {
  const context = await (on ?? (await browser())).newContext({
    ...view,
    colorScheme: dark ? "dark" : "light",
    reducedMotion: "reduce",
    permissions: ["microphone"],
    ...more,
  });
  context.setDefaultTimeout(10_000);
  const page = await context.newPage();
  const faults = [];
  page.on("pageerror", (error) => faults.push(`uncaught: ${error.stack ?? error}`));
  page.on("console", (message) => {
    if (message.type() !== "error") return;
    if (page.networkMayFail && /net::ERR_|Failed to fetch/.test(message.text())) return;
    if (page.requestMayBeRefused && /status of 4\d\d/.test(message.text())) return;
    faults.push(`console: ${message.text()} (${message.location().url})`);
  });
  atEnd(t, async () => {
    await atMost(15, context.close());
    assert.deepEqual(faults, [], "the page complained");
  });
  await page.goto(url);
  return page;
}

/** The practice jobs by name. */
const mill = "Larkwater Mill";
export const draft = "Larkwater Mill, first draft";

/** The id of a practice job. */
export async function jobOf(server, name = mill) {
  const { jobs } = await (await fetch(`${server.url}/api/jobs`)).json();
  return jobs.find((one) => one.name === name).job;
}

/** Says on this device who is at work on a job. */
export const atWork = (page, job, person = "okoro-lind") =>
  page.evaluate(([job, person]) => localStorage.setItem(`proofbell.at-work.${job}`, person), [job, person]);

/** Opens a practice job at a place in it, with its technician at work. `at` is another address of the server. */
export async function openJob(t, server, path, { name = mill, at = server.url, ...look } = {}) {
  const job = await jobOf(server, name);
  const page = await open(t, at, look);
  await atWork(page, job);
  await page.goto(`${at}/job/${job}/${path}`);
  return { page, job };
}

/** Goes to another address of the same page without loading it anew, as a link does. */
export const visit = (page, url) =>
  page.evaluate((url) => {
    history.pushState({}, "", url);
    dispatchEvent(new PopStateEvent("popstate"));
  }, url);

/** Waits until the service worker holds the whole application, so that it opens without a server. */
export async function keptOffline(page) {
  await page.waitForFunction(() => navigator.serviceWorker.controller !== null, null, { timeout: 20_000 });
}

/** Waits for something to end, but not for ever: what does not end must not hold up the tests behind it. */
async function atMost(seconds, ending) {
  let timer;
  await Promise.race([
    ending,
    new Promise((done) => {
      timer = setTimeout(done, seconds * 1000);
    }),
  ]);
  clearTimeout(timer);
}

/** Asks the engine in a worker of the page, past the page's own code. Returns its JSON answer, parsed. */
export async function askEngine(page, method, argument) {
  return page.evaluate(
    async ([method, argument]) => {
      const list = await (await fetch("/files.js")).text();
      const script = list.match(/\/assets\/engine-[^"]+\.js/)?.[0];
      if (!script) throw new Error("files.js names no engine worker");
      const worker = new Worker(script, { type: "module" });
      try {
        return await new Promise((resolve, reject) => {
          worker.onerror = (event) => reject(new Error(event.message));
          worker.onmessage = ({ data }) =>
            "failed" in data ? reject(new Error(data.failed)) : resolve(JSON.parse(data.response));
          worker.postMessage({ id: 1, method, argument: JSON.stringify(argument), lang: argument.lang });
        });
      } finally {
        worker.terminate();
      }
    },
    [method, argument],
  );
}

const recoloured = new WeakSet();

/** Shows a page in light and in dark without loading it anew, and gives each to `look` by that name. */
export async function inBoth(page, look) {
  await look("light");
  await page.emulateMedia({ colorScheme: "dark" });
  recoloured.add(page);
  await look("dark");
  recoloured.delete(page);
  await page.emulateMedia({ colorScheme: "light" });
}

/**
 * Fails on what axe calls serious or critical. Run by evaluate: the page's own policy forbids foreign scripts.
 * Between light and dark of one page the colours alone differ, so the second look is at them.
 */
export async function assertAccessible(page) {
  await page.evaluate(axe.source);
  const { violations } = await page.evaluate((only) => globalThis.axe.run({ resultTypes: ["violations"], ...only }), {
    ...(recoloured.has(page) ? { runOnly: ["color-contrast"] } : {}),
  });
  const bad = violations
    .filter(({ impact }) => impact === "serious" || impact === "critical")
    .map(({ id, help, nodes }) => `${id}: ${help}\n  ${nodes.map((node) => node.html).join("\n  ")}`);
  assert.deepEqual(bad, [], page.url());
}

/**
 * Fails on a page that scrolls sideways, cuts its text off, lays one control over another, or has a control
 * smaller than `target` px (56 on field screens, 44 at a desk). Links inside a sentence are exempt from the size.
 */
export async function assertFits(page, { target = 56 } = {}) {
  const look = () =>
    page.evaluate((target) => {
      const out = [];
      const name = (el) =>
        `<${el.tagName.toLowerCase()}> "${(el.getAttribute("aria-label") ?? el.textContent ?? "").trim().slice(0, 40)}"`;
      const width = document.documentElement.clientWidth;
      if (document.documentElement.scrollWidth > width) out.push(`the page is wider than the screen (${width} px)`);
      // What stays in place does not make the page wider, nor does what scrolls by itself.
      for (const el of document.querySelectorAll("main, aside, [role=dialog], [role=dialog] > *")) {
        if (el.getBoundingClientRect().right > width + 1 || el.scrollWidth > el.clientWidth + 1)
          out.push(`wider than its place: ${name(el)}`);
      }

      for (const el of document.body.querySelectorAll("*")) {
        const style = getComputedStyle(el);
        const hides = ["hidden", "clip"].includes(style.overflowX) || style.textOverflow === "ellipsis";
        const spoken = style.clipPath !== "none";
        if (hides && !spoken && el.clientWidth > 0 && el.scrollWidth > el.clientWidth + 1)
          out.push(`cut off: ${name(el)}`);
      }

      // The part of an element that its scrolling ancestors leave to be seen.
      const seen = (el) => {
        const { left, top, right, bottom } = el.getBoundingClientRect();
        const box = { left, top, right, bottom };
        for (let up = el.parentElement; up; up = up.parentElement) {
          if (getComputedStyle(up).overflowY === "visible") continue;
          const clip = up.getBoundingClientRect();
          box.top = Math.max(box.top, clip.top);
          box.bottom = Math.min(box.bottom, clip.bottom);
        }
        return box;
      };

      const controls = [
        ...document.querySelectorAll(
          "button, select, textarea, input:not([type=hidden]), summary, a[href], [role=button], [role=tab]",
        ),
      ]
        // What is inert lies under a sheet: nobody can touch it.
        .filter(
          (el) =>
            el.checkVisibility({ visibilityProperty: true }) &&
            getComputedStyle(el).clipPath === "none" &&
            !el.closest("[inert]"),
        )
        .map((el) => {
          // A label makes its box part of the target.
          const boxes = [el, ...(el.labels ?? [])].map((part) => part.getBoundingClientRect());
          const box = {
            left: Math.min(...boxes.map((b) => b.left)),
            top: Math.min(...boxes.map((b) => b.top)),
            right: Math.max(...boxes.map((b) => b.right)),
            bottom: Math.max(...boxes.map((b) => b.bottom)),
          };
          return { el, own: seen(el), box };
        });
      for (const { el, box } of controls) {
        const inSentence = el.tagName === "A" && getComputedStyle(el).display === "inline";
        const [w, h] = [box.right - box.left, box.bottom - box.top];
        if (!inSentence && (w < target - 0.5 || h < target - 0.5))
          out.push(`${w.toFixed(0)} x ${h.toFixed(0)} px, under ${target}: ${name(el)}`);
      }
      for (const [i, a] of controls.entries()) {
        for (const b of controls.slice(i + 1)) {
          const fixed = (el) => el.closest("*") && ["fixed", "sticky"].includes(getComputedStyle(el).position);
          const floats = (el) => {
            for (let up = el; up; up = up.parentElement) if (fixed(up)) return true;
            return false;
          };
          // What scrolls may pass under what stays in place.
          if (a.el.contains(b.el) || b.el.contains(a.el) || floats(a.el) !== floats(b.el)) continue;
          const across = Math.min(a.own.right, b.own.right) - Math.max(a.own.left, b.own.left);
          const down = Math.min(a.own.bottom, b.own.bottom) - Math.max(a.own.top, b.own.top);
          if (across > 1 && down > 1) out.push(`overlap: ${name(a.el)} and ${name(b.el)}`);
        }
      }
      return out;
    }, target);
  // A page that has just been turned or resized settles within some frames; what is wrong stays wrong.
  let faults = await look();
  for (let n = 0; n < 60 && faults.length > 0; n++) {
    await page.evaluate(() => new Promise((resolve) => requestAnimationFrame(resolve)));
    faults = await look();
  }
  assert.deepEqual(faults, [], page.url());
}

/**
 * With PICTURES in the environment: keeps a picture in test-results/, which is not committed, for a person to look at; of the whole page
 * unless `more` says otherwise. The gate goes without: a long page takes a second, and no test reads it.
 */
export async function shot(page, name, more = {}) {
  if (!process.env.PICTURES) return;
  const folder = join(root, "test-results");
  await mkdir(folder, { recursive: true });
  await page.screenshot({ path: join(folder, `${name}.png`), fullPage: true, animations: "disabled", ...more });
}
