// With no signal, with no room, after a break, and across versions: nothing is lost, and nothing pretends.
import assert from "node:assert/strict";
import { createServer, request } from "node:http";
import test from "node:test";
import {
  assertAccessible,
  assertFits,
  draft,
  inBoth,
  jobOf,
  keptOffline,
  open,
  openJob,
  serve,
  shot,
  views,
} from "./harness.js";

async function book(server, job) {
  const entries = [];
  for (let after = 0; ; ) {
    const answer = await (await fetch(`${server.url}/api/jobs/${job}/entries?after=${after}`)).json();
    if (!answer.entries?.length) return entries;
    entries.push(...answer.entries);
    after = entries.at(-1).seq;
  }
}

const holding = async (server, job, text) =>
  (await book(server, job)).filter((entry) => JSON.stringify(entry.body).includes(text)).length;

/** Opens the drafted job at a place with somebody at work. */
async function job(t, server, path, options) {
  const { page, job } = await openJob(t, server, path, { name: draft, at: options?.front, ...options });
  return { page, id: job };
}

async function addRoom(page, name) {
  await page.getByRole("button", { name: "Add what you see" }).click();
  await page.getByRole("button", { name: /^A room/ }).click();
  await page.getByLabel("Name", { exact: true }).fill(name);
  await page.getByRole("button", { name: "Add", exact: true }).click();
}

async function roomAdded(page, name) {
  await addRoom(page, name);
  await page.getByRole("heading", { name, exact: true }).waitFor();
  await page.getByRole("button", { name: "Done" }).click();
}

test("a job begun with no signal is on the server once, with all that was done in it", async (t) => {
  const server = await serve(t);
  const page = await open(t, server.url);
  await page
    .getByRole("link", { name: /Larkwater/ })
    .first()
    .waitFor();
  await keptOffline(page);
  page.networkMayFail = true;
  await server.stop();

  await page.reload();
  await page.getByText("No server can be reached").waitFor();
  await page.getByLabel("Name of the building").fill("Ferry house");
  await page.getByRole("button", { name: "Begin" }).click();
  await page.getByText("Begin with the rooms").waitFor();
  await addRoom(page, "Boat room");
  await page.getByLabel("Name", { exact: true }).last().fill("Someone New");
  await page.getByRole("button", { name: "At work" }).click();
  await page.getByRole("heading", { name: "Boat room" }).waitFor();
  await page.getByRole("button", { name: "Done" }).click();
  await page.getByText("edits waiting for a signal").waitFor();
  const id = page.url().split("/")[4];
  await page.goto(server.url);
  await page.getByText("on this device alone, not sent yet").waitFor();
  await page.getByRole("link", { name: /Ferry house/ }).click();
  await page.getByText("Boat room").first().waitFor();
  await page.getByText("edits waiting for a signal").waitFor();

  await server.restart();
  await page.getByText("waiting for a signal").waitFor({ state: "detached", timeout: 45_000 });
  const { jobs } = await (await fetch(`${server.url}/api/jobs`)).json();
  assert.deepEqual(
    jobs.filter(({ name }) => name === "Ferry house").map(({ job }) => job),
    [id],
  );
  assert.equal(await holding(server, id, "Boat room"), 1);
  await page.reload();
  await page.getByText("Boat room").first().waitFor();
});

test("a site file opens a job with no signal", async (t) => {
  const server = await serve(t);
  const page = await open(t, server.url);
  await page
    .getByRole("link", { name: /Larkwater/ })
    .first()
    .waitFor();
  await keptOffline(page);
  page.networkMayFail = true;
  await server.stop();
  await page.locator("input[type=file]").setInputFiles({
    name: "house.yaml",
    mimeType: "application/yaml",
    buffer: Buffer.from("format: proofbell.site/1\nname: Gate house\nrooms:\n  G1: {name: Hall}\n"),
  });
  await page.getByText("Hall").first().waitFor();
});

/** A door before the server that can say that a newer version is there, and can shut the API off. */
async function front(t, server) {
  const target = new URL(server.url);
  const door = { version: "", shut: false };
  const listener = createServer((req, res) => {
    if (door.shut && req.url.startsWith("/api/")) {
      req.socket.destroy();
      return;
    }
    const headers = { ...req.headers };
    for (const name of ["accept-encoding", "if-none-match", "if-modified-since"]) delete headers[name];
    const onward = request({ host: target.hostname, port: target.port, path: req.url, method: req.method, headers });
    onward.on("error", () => req.socket.destroy());
    onward.on("response", (answer) => {
      if (door.version === "" || req.url !== "/files.js") {
        res.writeHead(answer.statusCode, answer.headers);
        answer.pipe(res);
        return;
      }
      let text = "";
      answer.setEncoding("utf8");
      answer.on("data", (part) => {
        text += part;
      });
      answer.on("end", () => {
        res.writeHead(200, { "Content-Type": "text/javascript", "Cache-Control": "no-cache" });
        res.end(text.replace(/"version":"[^"]*"/, `"version":"${door.version}"`));
      });
    });
    req.pipe(onward);
  });
  await new Promise((done) => listener.listen(0, "127.0.0.1", done));
  door.url = `http://127.0.0.1:${listener.address().port}`;
  t.after(() => {
    listener.closeAllConnections();
    listener.close();
  });
  return door;
}

test("a new version is offered, never taken in the middle of typing, and sends what the old one kept", async (t) => {
  const server = await serve(t);
  const door = await front(t, server);
  const { page, id } = await job(t, server, "survey", { front: door.url });
  await page.getByText("Breakfast room").first().waitFor();
  await keptOffline(page);
  page.networkMayFail = true;
  door.shut = true;
  await roomAdded(page, "Apple loft");
  await page.getByText("1 edit waiting for a signal").waitFor();
  await page.getByRole("button", { name: "Add what you see" }).click();
  await page.getByRole("button", { name: /^A room/ }).click();
  await page.getByLabel("Name", { exact: true }).pressSequentially("Ice cel");

  door.version = "the-next-one";
  await page.evaluate(async () => {
    globalThis.sameAsBefore = true;
    await (await navigator.serviceWorker.getRegistration()).update();
  });
  await page.getByText("A new version is here.").waitFor();
  assert.equal(await page.evaluate(() => globalThis.sameAsBefore), true, "the page reloaded by itself");
  assert.equal(await page.getByLabel("Name", { exact: true }).inputValue(), "Ice cel");
  await page.keyboard.press("Escape");
  await shot(page, "new-version-phone-light");
  await page.getByRole("button", { name: "Use it now" }).click();
  await page.waitForFunction(() => globalThis.sameAsBefore === undefined);
  await page.getByText("Apple loft").filter({ visible: true }).first().waitFor();
  const caches = await page.evaluate(() => caches.keys());
  assert.ok(
    caches.some((name) => name.endsWith("the-next-one")),
    caches.join(),
  );

  await page.getByText("1 edit waiting for a signal").waitFor();
  door.shut = false;
  await page.evaluate(() => dispatchEvent(new Event("online")));
  await page.getByText("waiting for a signal").waitFor({ state: "detached", timeout: 45_000 });
  assert.equal(await holding(server, id, "Apple loft"), 1);
});

test("a full phone says that what was done is not kept, and what was kept stays", async (t) => {
  const server = await serve(t);
  const page = await open(t, "about:blank");
  const id = await jobOf(server, draft);
  await page.addInitScript((job) => localStorage.setItem(`proofbell.at-work.${job}`, "okoro-lind"), id);
  const cdp = await page.context().newCDPSession(page);
  await cdp.send("Storage.overrideQuotaForOrigin", { origin: server.url, quotaSize: 1 });
  // What the server has is shown all the same.
  await page.goto(`${server.url}/job/${id}/survey`);
  await page.getByText("Breakfast room").first().waitFor();
  await addRoom(page, "Coal hole");
  await page.getByText("This device is full. What is done now is not kept on it.").waitFor();
  await page.getByText("This device is full: what you just did was not kept.").first().waitFor();
  await assertAccessible(page);
  await assertFits(page);
  await shot(page, "full-phone-light");
  assert.equal(await holding(server, id, "Coal hole"), 0, "what was said not to be kept was sent");

  await cdp.send("Storage.overrideQuotaForOrigin", { origin: server.url });
  await page.getByRole("button", { name: "Add", exact: true }).click();
  await page.getByRole("heading", { name: "Coal hole", exact: true }).waitFor();
  await page.getByText("This device is full").first().waitFor({ state: "detached" });
});

test("a store that the browser cleared is noticed: what is lost, and what the server has", async (t) => {
  const server = await serve(t);
  const { page, id } = await job(t, server, "survey");
  await page.getByText("Breakfast room").first().waitFor();
  await keptOffline(page);
  page.networkMayFail = true;
  await server.stop();
  await roomAdded(page, "Apple loft");
  await page.getByText("1 edit waiting for a signal").waitFor();
  const cdp = await page.context().newCDPSession(page);
  await page.goto("about:blank");
  await cdp.send("Storage.clearDataForOrigin", {
    origin: server.url,
    storageTypes: "indexeddb,local_storage,cache_storage,service_workers",
  });
  await server.restart();
  await page.goto(server.url);
  await page.getByText("This browser cleared what it kept for Proofbell.").waitFor();
  await page.getByText("One act had not been sent").waitFor();
  await assertAccessible(page);
  await assertFits(page);
  await shot(page, "cleared-phone-light");
  await page.getByRole("button", { name: "Understood" }).click();
  await page.goto(`${server.url}/job/${id}/survey`);
  await page.getByText("Breakfast room").first().waitFor();
  await page.reload();
  await page.getByText("Breakfast room").first().waitFor();
  assert.equal(await page.getByText("This browser cleared").count(), 0);
});

test("after a dead page the place and the half-typed text are offered, not forced", async (t) => {
  const server = await serve(t);
  const { page } = await job(t, server, "survey");
  await page.getByRole("button", { name: "Add what you see" }).click();
  await page.getByRole("button", { name: /^A room/ }).click();
  await page.getByLabel("Name", { exact: true }).pressSequentially("Coal ho");
  await page.waitForFunction(() => localStorage.getItem("proofbell.place")?.includes("survey"));
  const context = page.context();
  const cdp = await context.newCDPSession(page);
  const died = page.waitForEvent("crash");
  cdp.send("Page.crash").catch(() => undefined);
  await died;
  await page.close();

  const again = await context.newPage();
  await again.goto(server.url);
  const offer = again.getByRole("group", { name: "Where you were" });
  await offer.getByText(/Larkwater Mill, first draft, Survey/).waitFor();
  await offer.getByText("Coal ho").waitFor();
  await assertAccessible(again);
  await assertFits(again);
  await shot(again, "where-was-i-phone-light");
  await offer.getByRole("button", { name: "Go on there" }).click();
  await shot(again, "half-typed-phone-light");
  await again.getByText("Coal ho").waitFor();
  const name = again.getByLabel("Name", { exact: true });
  if (!(await name.isVisible())) {
    if (!(await again.getByRole("dialog").isVisible()))
      await again.getByRole("button", { name: "Add what you see" }).click();
    if (!(await name.isVisible())) await again.getByRole("button", { name: /^A room/ }).click();
  }
  assert.equal(await name.inputValue(), "", "it was put back without being asked for");
  await again.getByRole("button", { name: "Put it back" }).click();
  assert.equal(await name.inputValue(), "Coal ho");
  await name.pressSequentially("le");
  await again.getByRole("button", { name: "Add", exact: true }).click();
  await again.getByRole("heading", { name: "Coal hole" }).waitFor();
  await again.reload();
  await again.getByText("Coal hole").filter({ visible: true }).first().waitFor();
  assert.equal(await again.getByText("Not kept yet").count(), 0);
});

for (const [name, view] of Object.entries(views)) {
  test(`two browsers edited the same zone: both values, and a choice: ${name}`, async (t) => {
    const server = await serve(t);
    const { page: one, id } = await job(t, server, "schedule/zone/09", { view });
    const { page: two } = await job(t, server, "schedule/zone/09", { view, dark: true });
    const label = (page) => page.getByRole("dialog").getByLabel("Label");
    await label(one).waitFor();
    await label(two).waitFor();
    await keptOffline(two);
    two.networkMayFail = true;
    await two.context().setOffline(true);
    await label(two).fill("STAIR SMOKE");
    await label(two).blur();
    await two.getByText("1 edit waiting for a signal").waitFor();
    const sent = one.waitForResponse((answer) => answer.request().method() === "POST" && answer.ok());
    await label(one).fill("PORCH SMOKE");
    await label(one).blur();
    await sent;
    await two.context().setOffline(false);
    for (const page of [one, two])
      await page.getByRole("button", { name: "One edit met another" }).waitFor({ timeout: 30_000 });

    await two.getByRole("dialog").getByRole("button", { name: "Close" }).click();
    await two.getByRole("button", { name: "One edit met another" }).click();
    const choice = two.getByRole("dialog").getByRole("article");
    await choice.getByRole("heading", { name: "Zone 09, label" }).waitFor();
    await choice.getByText("STAIR SMOKE").waitFor();
    await choice.getByText("PORCH SMOKE").waitFor();
    await assertAccessible(two);
    await assertFits(two, { target: name === "phone" ? 56 : 44 });
    await shot(two, `conflict-${name}-dark`);
    await choice.getByRole("button", { name: "Take this" }).click();
    await two.getByText("Nothing is left to choose.").waitFor();
    await one.getByRole("button", { name: "One edit met another" }).waitFor({ state: "detached" });
    await one.waitForFunction(() =>
      [...document.querySelectorAll("input")].some(({ value }) => value === "PORCH SMOKE"),
    );
    assert.equal(await holding(server, id, "STAIR SMOKE"), 1);
  });
}

test("this device: language, room, what is kept", async (t) => {
  const server = await serve(t);
  for (const [name, view] of Object.entries(views)) {
    const page = await open(t, `${server.url}/device`, { view });
    await page.getByText("May the browser clear it?").waitFor();
    await inBoth(page, async (scheme) => {
      await assertAccessible(page);
      await assertFits(page, { target: name === "phone" ? 56 : 44 });
      await shot(page, `device-${name}-${scheme}`);
    });
    await page.getByRole("button", { name: "Deutsch" }).click();
    await page.getByRole("heading", { name: "Dieses Gerät" }).waitFor();
    assert.equal(await page.evaluate(() => document.documentElement.lang), "de");
    await inBoth(page, () => assertFits(page, { target: name === "phone" ? 56 : 44 }));
  }
});

test("German, chosen with no signal: the page and what the engine says", async (t) => {
  const server = await serve(t);
  const { page, id } = await job(t, server, "schedule/zone/09");
  await page.getByLabel("Station code").waitFor({ timeout: 45_000 });
  await keptOffline(page);
  page.networkMayFail = true;
  await server.stop();

  await page.goto(`${server.url}/device`);
  await page.getByRole("button", { name: "Deutsch" }).click();
  await page.getByRole("heading", { name: "Dieses Gerät" }).waitFor();
  await page.goto(`${server.url}/job/${id}/schedule/zone/09`);
  await page.getByLabel("Meldecode").waitFor({ timeout: 45_000 });
  await page.getByRole("option", { name: "Rauch mit Zwischenspeicherung" }).waitFor({ state: "attached" });

  // A refused edit says in German what is wrong and what to do.
  await page.goto(`${server.url}/job/${id}/survey/head/M9`);
  const made = page.getByLabel("Hergestellt");
  await made.waitFor({ timeout: 45_000 });
  await made.fill("gestern");
  await made.press("Enter");
  await page.getByText("„gestern“ ist kein Datum.").waitFor();
  await page.getByText("2019-04-23, 2019-04 oder 2019 schreiben.").waitFor();
  await assertFits(page);
  await shot(page, "refused-german-phone");
});

test("a device is left with nothing on it, said first what would be lost", async (t) => {
  const server = await serve(t);
  const { page } = await job(t, server, "survey");
  await page.getByText("Breakfast room").first().waitFor();
  await keptOffline(page);
  await page.goto(`${server.url}/device`);
  await page.getByRole("button", { name: "Take it off this device" }).click();
  await assertAccessible(page);
  await assertFits(page);
  await page.getByRole("button", { name: "Take it all off" }).click();
  await page.getByText("not yet on this device").first().waitFor();
  assert.equal(await page.getByText("This browser cleared").count(), 0);
  assert.equal(await page.getByRole("group", { name: "Where you were" }).count(), 0);
});
