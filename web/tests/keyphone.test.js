// Keying on the phone: lost on purpose at every prompt and back, with no signal; labels before a camera.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import test from "node:test";
import { fileURLToPath } from "node:url";
import { prepareZXingModule, writeBarcode } from "zxing-wasm/writer";
import {
  assertAccessible,
  assertFits,
  draft,
  filming,
  jobOf,
  keptOffline,
  open,
  openJob,
  serve,
  shot,
  views,
} from "./harness.js";
import { hang, listed, main, panelBeside, press, read } from "./keying.js";

/** Holds a page against both screens; accessible on the phone. */
async function look(page, name) {
  for (const [view, { viewport }] of Object.entries(views)) {
    await page.setViewportSize(viewport);
    await assertFits(page, { target: view === "phone" ? 56 : 44 });
    await shot(page, `keyphone-${name}-${view}`, { fullPage: false });
    if (view === "phone") await assertAccessible(page);
  }
  await page.setViewportSize(views.phone.viewport);
}

test("lost on purpose at every prompt and back, with no signal; it all arrives once", async (t) => {
  const server = await serve(t);
  const { page, job } = await openJob(t, server, "key/zone/09/1");
  await main(page).waitFor();
  await keptOffline(page);
  const panel = await panelBeside(page, job);
  page.networkMayFail = true;
  await page.context().setOffline(true);

  let display = await panel.wait(0);
  const tap = async () => {
    const { path } = await read(page);
    await main(page).click();
    await page.waitForFunction((path) => location.pathname !== path, path);
    await page.locator(".actions .main:enabled").waitFor();
  };
  /** Does what the card says, and sees that the panel answers as it says. */
  const follow = async () => {
    display = await press(panel, await read(page), display);
    await tap();
  };
  /** Another way to get lost at each prompt; gives what a person would then read off the display. */
  const stray = {
    1: async () => (await panel.press("1", "0", "OK")).prompt,
    5: async () => (await panel.wait(200)).notice,
    7: async () => (await panel.press("5", "OK")).notice,
    10: async () => (await panel.hear("SD001228")).prompt,
    12: async () => {
      await panel.press("BACK");
      await panel.press("BACK");
      return (await panel.press("BACK")).prompt;
    },
  };
  for (let n = 1; n <= 13; n++) {
    const home = await read(page);
    assert.ok(home.path.endsWith(`/zone/09/${n}`), `${home.path}, want card ${n}`);
    const shown = await (stray[n] ?? (async () => (await panel.press("BACK")).prompt))();
    await page.getByRole("button", { name: "I see something else" }).click();
    const sheet = page.getByRole("dialog");
    // Tapped, or its first letters typed.
    if (n === 2) await look(page, "lost");
    if (n % 2 === 0 || stray[n]) await sheet.getByLabel("Type its first letters").fill(shown.slice(0, 8).toLowerCase());
    await sheet.getByRole("button", { name: shown, exact: true }).click();
    await page.locator(".say").waitFor();
    if (n === 6) await look(page, "way-back");
    display = await panel.wait(0);
    for (let steps = 0; (await read(page)).path.includes("/lost/"); steps++) {
      assert.ok(steps < 6, "the way back has an end");
      const ask = page.getByRole("button", { name: "Say what it shows now" });
      if ((await read(page)).keys.length > 0) await follow();
      else if (await ask.isVisible()) {
        // A refusal alone does not say where the panel is: its prompt does.
        const { path } = await read(page);
        await ask.click();
        await sheet.getByRole("button", { name: display.prompt, exact: true }).click();
        await page.waitForFunction((path) => location.pathname !== path, path);
        await page.locator(".say").waitFor();
      } else await tap();
    }
    await page.getByText(/Answer \d+ of 13/).waitFor();
    // From there by the cards to the prompt where it went wrong, and past it.
    for (let left = 14; left > 0; left--) {
      const card = await read(page);
      assert.equal(display.prompt, card.shows, card.path);
      const there = card.path.endsWith(`/zone/09/${n}`);
      await follow();
      if (there) break;
    }
  }
  await page.getByText("read back what is stored").waitFor();
  const { zones } = await panel.end();
  assert.deepEqual(
    zones.map(({ zone, what, state }) => [zone, what ?? state]),
    [["09", "right"]],
  );

  await page.context().setOffline(false);
  await page.getByText(/entr(y|ies) to send|not yet sent/i).waitFor({ state: "detached" });
  const told = (await listed(page, server, job, ({ body }) => body.act === "kept"))
    .filter(({ kind }) => kind === "keying")
    .map(({ body }) => body);
  const count = (act) => told.filter((one) => one.act === act).length;
  assert.deepEqual([count("begun"), count("lost"), count("kept")], [1, 13, 1]);
  assert.deepEqual(
    told.filter(({ act }) => act === "lost").map(({ card }) => card),
    [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13],
  );
});

test("a jump, a zone read back wrong, one that the panel dropped, and leaving: each is told in the book", async (t) => {
  const server = await serve(t);
  const { page, job } = await openJob(t, server, "key/zone/09/1");
  const at = (path) => page.waitForURL(`**/key/${path}`);
  await page.getByRole("button", { name: "Jump" }).click();
  await page.getByRole("dialog").getByRole("button", { name: "KEEP?" }).click();
  await at("zone/09/13");
  await page.getByText("Answer 13 of 13.", { exact: false }).waitFor();
  await main(page).click();
  // Twelve cards were jumped over: without a word on them nothing is kept.
  const asked = page.getByRole("dialog", { name: "12 cards are not ticked." });
  await asked.getByRole("button", { name: "No. To card 1" }).click();
  await at("zone/09/1");
  await page.getByRole("button", { name: "Jump" }).click();
  await page.getByRole("dialog").getByRole("button", { name: "KEEP?" }).click();
  await main(page).click();
  await asked.getByRole("button", { name: "Yes, each of them was keyed" }).click();
  await at("check/09/1");
  await page.getByText("Check 1 of 13.", { exact: false }).waitFor();
  await main(page).click();
  await page.getByText("and has stored").waitFor();
  await page.getByRole("button", { name: "I see something else" }).click();
  await page.getByRole("button", { name: "The prompt is right, but another answer stands there" }).click();
  await page.getByRole("button", { name: "On with card 1" }).click();
  await at("zone/09/1");
  await main(page).click();
  await page.getByText("Zone dropped in about 2:00, an estimate").waitFor();
  // Two and a half minutes pass without a tick, and the phone slept.
  await page.evaluate((slot) => {
    const work = JSON.parse(localStorage.getItem(slot));
    localStorage.setItem(slot, JSON.stringify({ ...work, last: work.last - 150_000 }));
  }, `proofbell.keying.${job}.work`);
  await page.reload();
  await page.getByText("By now the panel has likely dropped the zone, unsaved.").waitFor();
  await look(page, "dropped");
  await page.getByRole("button", { name: "It shows TOO SLOW, ZONE DROPPED" }).click();
  await page.getByRole("button", { name: "On with card 1" }).click();
  await at("zone/09/1");
  await page.goto(`${server.url}/job/${job}/key/leave/panel/1`);
  await page.getByRole("button", { name: "It does. Done" }).click();
  await page.getByText("0 of 33 zones keyed", { exact: false }).waitFor();
  const told = (await listed(page, server, job, ({ body }) => body.act === "left"))
    .filter(({ kind }) => kind === "keying")
    .map(({ body: { slots, ms, from, ...body } }) => {
      assert.match(from, /^device-/, "two phones are told apart");
      return body;
    });
  assert.deepEqual(told, [
    { act: "begun" },
    { act: "kept", panel: "ladder", version: "1.0", zone: "09" },
    { act: "checked", zone: "09" },
    { act: "lost", zone: "09", card: 2, shown: "TOO SLOW, ZONE DROPPED" },
    { act: "left" },
  ]);
});

test("a schedule that changes while a zone is keyed: its cards stay, what was keyed is told, and it is keyed again", async (t) => {
  const server = await serve(t);
  const { page, job } = await openJob(t, server, "key/zone/09/12");
  await page.getByText("Answer 12 of 13.", { exact: false }).waitFor();
  await page.waitForFunction(
    (slot) => JSON.parse(localStorage.getItem(slot) ?? "{}").hand,
    `proofbell.keying.${job}.work`,
  );
  await page.goto(`${server.url}/job/${job}/schedule/zone/09`);
  await page.getByLabel("Label", { exact: true }).fill("Mains smoke alarms");
  await page.getByLabel("Label", { exact: true }).press("Tab");
  await listed(page, server, job, ({ kind }) => kind === "edit");
  await page.goto(`${server.url}/job/${job}/key`);
  await page.getByRole("button", { name: "Go on: zone 09, answer 12" }).click();
  await page.getByRole("heading", { name: "Zone 09, Mains alarms smoke" }).waitFor();
  await main(page).click();
  await page.getByText("Answer 13 of 13.", { exact: false }).waitFor();
  await main(page).click();
  await page.getByRole("button", { name: "Yes, each of them was keyed" }).click();
  await page.getByText("The schedule of zone 09 was changed while it was keyed.", { exact: false }).waitFor();
  await look(page, "again");
  await page.getByRole("button", { name: "Key zone 09 again" }).click();
  await page.getByRole("heading", { name: "Zone 09, Mains smoke alarms" }).waitFor();
  await page.getByText(/Answer 1 of \d+/).waitFor();
  const kept = ({ body }) => body.act === "kept";
  assert.deepEqual(
    (await listed(page, server, job, kept)).filter(kept).map(({ body }) => body.slots.words),
    ["31 32 05"],
  );
});

test("an identity off the label that the cards keyed before do not fit: the zone in hand is let go, and a stop is told", async (t) => {
  const server = await serve(t);
  const { page, job } = await openJob(t, server, "key");
  // A panel that takes the identity in two halves: the first is keyed when the label says that it is another.
  await hang(page, server, job, "Pigeonhole");
  await page.goto(`${server.url}/job/${job}/key/zone/09/1`);
  const slot = `proofbell.keying.${job}.work`;
  const second = await (
    await page.waitForFunction(
      (slot) =>
        JSON.parse(localStorage.getItem(slot) ?? "{}").hand?.zone.cards.findIndex(
          (card) => card.field === "identityTail",
        ) + 1,
      slot,
    )
  ).jsonValue();
  await page.goto(`${server.url}/job/${job}/key/zone/09/${second}`);
  await page.getByRole("button", { name: "Compare the identity" }).click();
  await page.getByLabel("What stands on the label").fill("BR020419");
  await page.getByRole("button", { name: /^Keep .* for this device$/ }).click();
  await page.getByText("Do not keep zone 09 at the panel: let the panel drop it.").waitFor();
  assert.equal(await page.evaluate((slot) => JSON.parse(localStorage.getItem(slot)).hand, slot), null);
  await look(page, "off-the-label");
  const told = await listed(page, server, job, ({ body }) => body.patch?.devices);
  assert.ok(!told.some(({ body }) => body.act === "kept"));
  await page.getByRole("button", { name: "Key zone 09 again" }).click();
  await page.getByText("Answer 1 of", { exact: false }).waitFor();
  // Where the zone has a stop since, that is told as well.
  const other = await jobOf(server, draft);
  await page.goto(`${server.url}/job/${other}/key/zone/18/1/again/identity`);
  await page.getByText("This zone has a stop and must not be keyed.").waitFor();
  await look(page, "off-the-label-stop");
  assert.equal(await page.getByRole("button", { name: "Key zone 18 again" }).count(), 0);
});

let printer;
/** A label on a bench, seen from a hand away: a little askew, its identity in a code and in print. */
async function label(t, text, format, print, askew) {
  printer ??= readFile(fileURLToPath(import.meta.resolve("zxing-wasm/writer/zxing_writer.wasm"))).then((wasmBinary) =>
    prepareZXingModule({ overrides: { wasmBinary }, fireImmediately: true }),
  );
  await printer;
  const { svg } = await writeBarcode(text, { format, scale: 4 });
  const page = await open(t, "about:blank", { view: { viewport: { width: 1280, height: 720 } } });
  await page.setContent(
    `<body style="margin:0;background:linear-gradient(120deg,#8a8377,#4c4842)"><div style="position:absolute;left:320px;top:150px;width:600px;padding:24px;background:#f4f2ea;transform:rotate(${askew}deg);font:700 34px sans-serif">${print}<br>${svg.replace(/^.*?<svg/s, '<svg style="width:100%;max-height:320px"')}</div></body>`,
  );
  const picture = await page.screenshot({ type: "jpeg", quality: 80 });
  await page.setContent('<body style="background:#6b655b"></body>');
  const bench = await page.screenshot({ type: "jpeg", quality: 80 });
  await page.context().close();
  // An empty bench first: the camera finds nothing, and goes on looking.
  return { film: [bench, bench, bench, ...Array(20).fill(picture)], picture };
}

test("a label before the camera: a square code mends the draft, a line code agrees with what is planned", async (t) => {
  const server = await serve(t);
  const square = await label(t, "https://label.example/t?id=SD002473", "QRCode", "SD 00247 3", 4);
  const line = await label(t, "BR001013", "Code128", "BR 00101 3", -3);

  // The draft has SD002743 for the hall; its label says SD 00247 3.
  const { page, job } = await openJob(t, server, "survey/device/hall-smoke", {
    name: draft,
    on: await filming(t, square.film),
    permissions: ["camera"],
  });
  await page.getByRole("button", { name: "Read the label" }).click();
  const labels = () => page.workers().filter((one) => one.url().includes("/labels-")).length;
  assert.equal(labels(), 0, "nothing of the reader is there before it is asked for");
  await page.getByRole("button", { name: "Scan with the camera" }).click();
  await page.getByText("Swapped: digit 4 and digit 5.").waitFor();
  assert.equal(labels(), 0, "the camera is off as soon as it has read");
  await look(page, "label");
  await page.getByRole("button", { name: "Keep SD 00247 3 for this device" }).click();
  await page.waitForFunction(() => document.querySelector("[role=dialog] input.large")?.value === "SD002473");
  await page.waitForFunction(
    async (job) => {
      const { entries } = await (await fetch(`/api/jobs/${job}/entries?after=1&limit=100`)).json();
      return entries.some(({ body }) => body.patch?.devices?.["hall-smoke"]?.identity === "SD002473");
    },
    job,
    { polling: 200 },
  );

  const other = await openJob(t, server, "key/zone/09/10", {
    on: await filming(t, line.film),
    permissions: ["camera"],
  });
  await keptOffline(other.page);
  other.page.networkMayFail = true;
  await other.page.context().setOffline(true);
  await other.page.getByRole("button", { name: "Compare the identity" }).click();
  await other.page.getByRole("button", { name: "Scan with the camera" }).click();
  await other.page.getByText("It is the planned identity.").waitFor();
  // The same from a photograph.
  const field = other.page.getByLabel("What stands on the label");
  await field.fill("");
  await other.page
    .getByLabel("From a photograph")
    .setInputFiles({ name: "label.jpg", mimeType: "image/jpeg", buffer: line.picture });
  await other.page.getByText("It is the planned identity.").waitFor();
  assert.equal(await field.inputValue(), "BR 00101 3");
  await field.fill("");
  await other.page
    .getByLabel("From a photograph")
    .setInputFiles({ name: "code.jpg", mimeType: "image/jpeg", buffer: Buffer.from("no picture") });
  await other.page.getByText("This file is no picture that this device can read.").waitFor();
});

test("heard by the panel: another device is refused, the planned one taken; a camera that is refused says what to do", async (t) => {
  const server = await serve(t);
  const { page } = await openJob(t, server, "key/zone/09/10", { permissions: [] });
  await page.getByRole("button", { name: "Compare the identity" }).click();
  await page.evaluate(() => {
    navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException("no", "NotAllowedError"));
  });
  await page.getByRole("button", { name: "Scan with the camera" }).click();
  await page.getByText("The camera was refused.").waitFor();
  await page.getByLabel("From a photograph").waitFor({ state: "attached" });
  await look(page, "refused");
  await page.getByRole("button", { name: "Heard by the panel" }).click();
  const shown = page.getByLabel("What the panel shows");
  await shown.fill("sd001228");
  await page.getByText("REFUSE IT", { exact: true }).waitFor();
  await page.getByText("It is the identity of zone 11, Landing smoke.").waitFor();
  assert.deepEqual(await page.locator("[role=dialog] kbd").allTextContents(), ["66", "OK"]);
  await look(page, "heard");
  await page.getByRole("button", { name: "I refused it" }).click();
  await page.getByText("Answer 10 of 13.", { exact: false }).waitFor();
  await page.getByRole("button", { name: "Compare the identity" }).click();
  await page.getByRole("button", { name: "Heard by the panel" }).click();
  await shown.fill("BR001013");
  await page.getByText("TAKE IT", { exact: true }).waitFor();
  assert.deepEqual(await page.locator("[role=dialog] kbd").allTextContents(), ["999", "OK"]);
  await page.getByRole("button", { name: "I took it" }).click();
  await page.getByText("Answer 11 of 13.", { exact: false }).waitFor();
});
