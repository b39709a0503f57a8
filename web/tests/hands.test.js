// Proving hands free: what is told, once and in order; the page that is read from 2 m; and what happens with no server.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, keptOffline, shot, views } from "./harness.js";
import { begin, goOnTest, main, openRun, simulate, zonesOf } from "./proving.js";

/** A voice, a motor and a lock of the page that write down what they are asked. */
function stubs({ voices = ["en-GB"], refuse = false } = {}) {
  globalThis.told = { said: [], shakes: [], locks: 0, hold: false };
  const told = globalThis.told;
  const waiting = [];
  const voice = {
    getVoices: () => voices.map((lang) => ({ lang, name: lang })),
    speak(sentence) {
      told.said.push(sentence.text);
      sentence.onstart?.();
      if (told.hold) waiting.push(sentence);
      else queueMicrotask(() => sentence.onend?.());
    },
    cancel() {
      for (const one of waiting.splice(0)) one.onend?.();
    },
  };
  globalThis.letGo = () => {
    told.hold = false;
    voice.cancel();
  };
  Object.defineProperty(globalThis, "speechSynthesis", { value: voice, configurable: true });
  globalThis.SpeechSynthesisUtterance = class {
    constructor(text) {
      this.text = text;
    }
  };
  navigator.vibrate = (pattern) => told.shakes.push(pattern.join(" ")) > 0;
  Object.defineProperty(navigator, "wakeLock", {
    value: {
      request: () => {
        told.locks += 1;
        if (refuse) return Promise.reject(new DOMException("no", "NotAllowedError"));
        const sentinel = new EventTarget();
        sentinel.released = false;
        sentinel.release = async () => {};
        globalThis.loseLock = () => {
          sentinel.released = true;
          sentinel.dispatchEvent(new Event("release"));
        };
        return Promise.resolve(sentinel);
      },
    },
    configurable: true,
  });
}

const told = (page) => page.evaluate(() => globalThis.told);
const heard = (page, pattern) =>
  page.waitForFunction((source) => globalThis.told.said.some((text) => new RegExp(source).test(text)), pattern.source);

async function ready(t, options) {
  const it = await begin(t);
  await it.page.addInitScript(stubs, options ?? {});
  await it.page.reload();
  await openRun(it.page);
  await goOnTest(it.page);
  return { ...it, zones: await zonesOf(it.server, it.job) };
}

/** Ticks a trip of a zone's step by its page, then makes the device trip. */
async function trip({ page, server, job, zones }, zone) {
  await page.goto(`${server.url}/job/${job}/prove/step/${zone}.alarm`);
  await main(page)
    .filter({ hasText: /^I trip it/ })
    .click();
  await main(page).filter({ hasNotText: "I trip it" }).waitFor();
  await simulate(server, { do: "trip", device: zones[zone].device, terminal: zones[zone].terminal });
}

test("what arrives is spoken once, newest first and merged; proved and failed shake differently", async (t) => {
  const it = await ready(t);
  const { page, server, zones } = it;
  assert.deepEqual((await told(page)).said, [], "the voice is off until it is turned on");
  await page.getByRole("button", { name: "Voice off" }).click();
  await heard(page, /^Next: Zone \d \d, /);
  assert.ok((await told(page)).locks > 0, "the screen is kept on");

  await trip(it, "24");
  await heard(page, /^Zone 2 4 received\./);
  await main(page).filter({ hasText: "Restored" }).click();
  await simulate(server, { do: "restore", device: zones[24].device, terminal: zones[24].terminal });
  await heard(page, /^Zone 2 4 restored\. Next: /);
  const { said, shakes } = await told(page);
  assert.equal(said.filter((text) => /2 4 received/.test(text)).length, 1, said.join("\n"));
  assert.ok(shakes.includes("80"), `arrived: ${shakes}`);

  // While a sentence is being said more arrive: one sentence for all of them, no backlog.
  await page.evaluate(() => {
    globalThis.told.hold = true;
    globalThis.told.said.length = 0;
  });
  for (const zone of ["25", "26"]) {
    await page.evaluate(
      (to) => history.pushState(null, "", to) ?? dispatchEvent(new PopStateEvent("popstate")),
      `/job/${it.job}/prove/step/${zone}.alarm`,
    );
    await main(page).filter({ hasText: "I trip it now" }).click();
    await main(page).filter({ hasNotText: "I trip it" }).waitFor();
    await simulate(server, { do: "trip", device: zones[zone].device, terminal: zones[zone].terminal });
    await main(page).filter({ hasText: "Restored" }).waitFor();
    await main(page).click();
    await simulate(server, { do: "restore", device: zones[zone].device, terminal: zones[zone].terminal });
    await main(page)
      .filter({ hasText: /^(Next|All)/ })
      .waitFor();
  }
  const during = (await told(page)).said.length;
  assert.equal(during, 1, "one sentence is being said, nothing waits behind it");
  await page.evaluate(() => globalThis.letGo());
  await heard(page, /^Zone 2 6 (received, )?restored\. 1 more received\./);
  assert.equal((await told(page)).said.length, 2);

  // What failed breaks in.
  await page.evaluate(() => {
    globalThis.told.shakes.length = 0;
  });
  await page.getByRole("button", { name: "Say more" }).click();
  await page.getByRole("button", { name: "It failed" }).click();
  await page.getByRole("button", { name: "Damaged" }).click();
  await heard(page, /^Zone 2 6 failed: not received\./);
  assert.deepEqual((await told(page)).shakes, ["400 150 400"]);

  // What the person at the telephone taps shakes, but speaks to nobody.
  const before = (await told(page)).said.length;
  await page.getByRole("link", { name: "Read-back" }).first().click();
  await page
    .getByRole("button", { name: /tap: seen$/ })
    .first()
    .click();
  await page.waitForFunction(() => globalThis.told.shakes.includes("80 80 80"));
  assert.equal((await told(page)).said.length, before);

  await page.evaluate(() => globalThis.loseLock());
  await page.goBack();
  await page.getByText("The screen is no longer kept on.").waitFor();
});

test("from 2 m: large letters, a tap anywhere trips, what arrives moves it on, and real smoke works with no server", async (t) => {
  const it = await ready(t, { voices: ["fr-FR"], refuse: true });
  const { page, server, job, zones } = it;
  await page.getByText("The phone refuses to keep its screen on").waitFor();
  await page.goto(`${server.url}/job/${job}/prove/watch`);
  const all = page.getByRole("button", { name: /Tap anywhere/ });
  await all.waitFor();
  await page.getByRole("button", { name: "Voice off" }).click();
  await page.getByText("This device has no voice for English").waitFor();

  for (const part of [".mark", ".state .word", ".next"]) {
    const size = await page.locator(part).evaluate((el) => Number.parseFloat(getComputedStyle(el).fontSize));
    assert.ok(size >= 72, `${part}: ${size} px`);
  }
  for (const [view, { viewport }] of Object.entries(views)) {
    await page.setViewportSize(viewport);
    for (const colorScheme of ["light", "dark"]) {
      await page.emulateMedia({ colorScheme });
      await assertFits(page, { target: view === "phone" ? 56 : 44 });
      await assertAccessible(page);
      await shot(page, `hands-2m-${view}-${colorScheme}`);
    }
  }
  await page.setViewportSize(views.phone.viewport);
  await page.emulateMedia({ colorScheme: "light" });

  await page.evaluate(() => localStorage.setItem("proofbell.language", "de"));
  await page.reload();
  await page.getByRole("button", { name: /Irgendwo tippen/ }).waitFor();
  await assertFits(page);
  await shot(page, "hands-2m-german");
  await page.evaluate(() => localStorage.setItem("proofbell.language", "en"));
  await page.reload();
  await all.waitFor();

  const first = (await page.locator(".mark").textContent()).trim();
  const { device, terminal } = zones[first];
  await all.click();
  await page
    .locator(".state .word")
    .filter({ hasText: /waiting|sound/ })
    .waitFor();
  await simulate(server, { do: "trip", device, terminal });
  for (let n = 0; n < 3; n++) {
    const word = page.locator(".state .word").filter({ hasText: /sound|clear/ });
    await word.waitFor();
    const clear = (await word.textContent()).trim() === "clear it";
    await all.click();
    await page
      .locator(".state .word")
      .filter({ hasNotText: clear ? "clear it" : "sound?" })
      .waitFor();
    if (clear) break;
  }
  await shot(page, "hands-2m-cleared");
  await simulate(server, { do: "restore", device, terminal });
  await page.locator(".mark").filter({ hasNotText: first }).waitFor();
  await page
    .getByRole("status")
    .filter({ hasText: `Zone ${first} restored` })
    .waitFor();

  await keptOffline(page);
  page.networkMayFail = true;
  await server.stop();
  await page.reload();
  await all.waitFor();
  await page.getByRole("button", { name: "Real smoke?" }).click();
  const help = page.getByRole("alertdialog");
  await help.getByText("1 Millrace Lane").waitFor();
  assert.equal(await help.getByRole("link", { name: "Call 911" }).getAttribute("href"), "tel:911");
  await shot(page, "hands-real");
  await help.getByRole("button", { name: "Back to the work" }).click();
  await all.click();
  await page
    .locator(".state .word")
    .filter({ hasText: /waiting|sound/ })
    .waitFor();
  await page.getByRole("link", { name: "Back to the steps" }).click();
  await page.getByRole("button", { name: /^Undo: Tripped/ }).waitFor();
});

test("a temporary change stands on every stage until it is put back, and the run stays open so long", async (t) => {
  const { page, server, job } = await begin(t);
  await openRun(page);
  await page.goto(`${server.url}/job/${job}/prove/putback`);
  await page.getByRole("button", { name: "Sounder off" }).click();
  await page.getByRole("button", { name: "Put back: Sounder off" }).waitFor();
  await page.getByLabel("Something else").fill("Cellar light left on");
  await page.getByRole("button", { name: "Note it" }).click();
  await page.getByRole("button", { name: "Put back: Cellar light left on" }).waitFor();
  for (const [view, { viewport }] of Object.entries(views)) {
    await page.setViewportSize(viewport);
    for (const colorScheme of ["light", "dark"]) {
      await page.emulateMedia({ colorScheme });
      await assertFits(page, { target: view === "phone" ? 56 : 44 });
      await assertAccessible(page);
      await shot(page, `hands-putback-${view}-${colorScheme}`);
    }
  }
  await page.setViewportSize(views.phone.viewport);

  await keptOffline(page);
  page.networkMayFail = true;
  await server.stop();
  for (const stage of ["survey", "schedule", "key", "hand", "look", "prove"]) {
    await page.goto(`${server.url}/job/${job}/${stage}`);
    await page.getByRole("link", { name: "2 things to put back: Sounder off, Cellar light left on" }).waitFor();
  }
  await page.goto(`${server.url}/job/${job}/prove/close`);
  await page.getByText("The run is closed when everything is put back.").waitFor();
  assert.ok(await main(page).isDisabled());
  await page.goto(`${server.url}/job/${job}/prove/putback`);
  for (const what of ["Sounder off", "Cellar light left on"])
    await page.getByRole("button", { name: `Put back: ${what}` }).click();
  await page.getByRole("link", { name: /to put back:/ }).waitFor({ state: "detached" });
  await page.goto(`${server.url}/job/${job}/prove/close`);
  await page.getByLabel(/Why it is closed all the same/).fill("Only the list was tried");
  assert.ok(await main(page).isEnabled());
});
