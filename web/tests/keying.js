// How a person keys by the cards: the simulated panel beside the page, and what stands on the card in sight.
import assert from "node:assert/strict";

export const main = (page) => page.locator(".actions .main");

/** Trade practice for zone 09 of the panel Ladder. */
export const zone09 = {
  area: "A",
  bypass: "N",
  code: "111",
  doorTone: "N",
  identity: "BR001013",
  kind: "S",
  link: "R",
  lossWindow: "1",
  paths: "2",
  terminal: "A",
  words: "31 32 05",
};

/** Says in the survey which panel hangs on the wall, by its name. */
export async function hang(page, server, job, panel) {
  await page.goto(`${server.url}/job/${job}/survey/panel`);
  await page
    .getByRole("group", { name: "Panel profile" })
    .getByText(panel)
    .click()
    .catch(async (e) => {
      await page.screenshot({ path: "/tmp/kp/hang.png" });
      throw e;
    });
  await listed(page, server, job, ({ kind }) => kind === "edit");
}

/** Waits until the server has put an entry in order, and gives all that came after the beginning. */
export async function listed(page, server, job, wanted) {
  for (let n = 0; n < 600; n++) {
    const { entries } = await (await fetch(`${server.url}/api/jobs/${job}/entries?after=1&limit=500`)).json();
    if (entries.some(wanted)) return entries;
    await page.evaluate(() => new Promise((resolve) => requestAnimationFrame(resolve)));
  }
  assert.fail("an entry did not reach the server");
}

/** A simulated panel: another engine in a worker of the page, with the same job, told one call at a time. */
export async function panelBeside(page, job) {
  await page.evaluate(async (job) => {
    const list = await (await fetch("/files.js")).text();
    const worker = new Worker(list.match(/\/assets\/engine-[^"]+\.js/)[0], { type: "module" });
    let id = 0;
    globalThis.panel = (method, argument) =>
      new Promise((resolve, reject) => {
        worker.onmessage = ({ data }) => {
          const { ok, problem } = JSON.parse(data.response ?? "{}");
          if (ok) resolve(ok);
          else reject(new Error(problem?.say ?? data.failed));
        };
        worker.postMessage({ id: ++id, method, argument: JSON.stringify(argument) });
      });
    const { key } = await (await fetch(`/api/jobs/${job}`)).json();
    const { entries } = await (await fetch(`/api/jobs/${job}/entries?after=0&limit=2000`)).json();
    await globalThis.panel("job.load", { job, key, entries });
    await globalThis.panel("rehearse.open", { job, now: new Date().toISOString(), from: "empty", zones: ["09"] });
  }, job);
  const say = (method, argument) =>
    page.evaluate(async ([method, argument]) => (await globalThis.panel(method, argument)).display, [method, argument]);
  return {
    press: (...keys) => say("rehearse.press", { keys, seconds: 1 }),
    wait: (seconds) => say("rehearse.pass", { seconds }),
    hear: (identity) => say("rehearse.hear", { identity }),
    end: () => page.evaluate(() => globalThis.panel("rehearse.end", {})),
  };
}

/** What the card in sight says. */
export const read = (page) =>
  page.evaluate(() => {
    const [shows, sees] = [...document.querySelectorAll(".display .panel:not(.then)")].map((one) =>
      one.textContent.trim(),
    );
    return {
      path: location.pathname,
      shows,
      sees,
      after: document.querySelector(".panel.then")?.textContent.trim(),
      until: document.querySelector(".press h2")?.textContent.startsWith("Press until") ?? false,
      keys: [...document.querySelectorAll(".press kbd")].flatMap((cap) => {
        const key = cap.textContent;
        const [, times = "1"] = /^×(\d+)$/.exec(cap.nextElementSibling?.textContent ?? "") ?? [];
        return Array(Number(times))
          .fill(/^[A-Z]/.test(key) ? [key] : [...key])
          .flat(2);
      }),
    };
  });

/** Presses what a card says; gives what the panel shows then, which has to be what the card says of it. */
export async function press(panel, card, display) {
  assert.ok(card.keys.length > 0, `${card.path}: no keys`);
  for (let n = 0; n < (card.until ? 20 : 1); n++) {
    if (card.until && display.prompt === card.after) break;
    display = await panel.press(...card.keys);
  }
  const shown = [display.notice, display.prompt].filter(Boolean).join(" / ");
  assert.ok(shown === card.after || display.prompt === card.after, `${card.path}: ${shown}, want ${card.after}`);
  return display;
}
