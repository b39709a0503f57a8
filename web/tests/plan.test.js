// Drawing the plan: a flat in few actions, an image traced to its true size, one room and one device by keyboard alone.
import assert from "node:assert/strict";
import { readFile, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import test from "node:test";
import { assertAccessible, assertFits, inBoth, keptOffline, open, openJob, serve, shot, views } from "./harness.js";

/** A new job whose sheet is still blank, with somebody at work. */
async function blankSheet(t, server, view) {
  const page = await open(t, server.url, { view });
  await page.getByLabel("Name of the building").fill("Ferry house");
  await page.getByRole("button", { name: "Begin" }).click();
  await page.getByText("Begin with the rooms").waitFor();
  return page;
}

/** Places on the sheet, in metres as a blank sheet shows them: 10.5 by 8.5 m round (4.75, 3.75), fitted with a margin. */
async function sheet(page) {
  const board = page.getByRole("application");
  const box = await board.boundingBox();
  const k = Math.min((box.width - 48) / 10.5, (box.height - 88) / 8.5);
  const at = ([x, y]) => [box.x + box.width / 2 + (x - 4.75) * k, box.y + box.height / 2 - (y - 3.75) * k];
  return {
    tap: (place) => page.mouse.click(...at(place)),
    async drag(from, to) {
      await page.mouse.move(...at(from));
      await page.mouse.down();
      await page.mouse.move(...at([(from[0] + to[0]) / 2, (from[1] + to[1]) / 2]), { steps: 3 });
      await page.mouse.move(...at(to), { steps: 3 });
      await page.mouse.up();
    },
  };
}

/** Who is at work is asked once, at the first edit. */
async function sayWho(page) {
  await page.getByLabel("Name", { exact: true }).last().fill("Someone New");
  await page.getByRole("button", { name: "At work", exact: true }).click();
}

/** The site as the page's own book has it. */
async function kept(page, server) {
  const job = page.url().split("/")[4];
  const read = async (path) => (await fetch(server.url + path)).json();
  const { key } = await read(`/api/jobs/${job}`);
  const { entries } = await read(`/api/jobs/${job}/entries?after=0&limit=500`);
  // An engine of its own: what the page shows is not taken at its word.
  return page.evaluate(
    async ([job, key, entries]) => {
      const list = await (await fetch("/files.js")).text();
      const worker = new Worker(list.match(/\/assets\/engine-[^"]+\.js/)[0], { type: "module" });
      let id = 0;
      const ask = (method, argument) =>
        new Promise((resolve, reject) => {
          worker.onmessage = ({ data }) =>
            "failed" in data ? reject(new Error(data.failed)) : resolve(JSON.parse(data.response).ok);
          worker.postMessage({ id: ++id, method, argument: JSON.stringify(argument) });
        });
      await ask("job.load", { job, key, entries });
      const survey = await ask("job.survey", { job, now: "2026-09-15T12:00:00.000Z" });
      worker.terminate();
      return survey;
    },
    [job, key, entries],
  );
}

const area = (outline) =>
  Math.abs(
    outline.reduce(
      (sum, p, i) => sum + p.X * outline[(i + 1) % outline.length].Y - outline[(i + 1) % outline.length].X * p.Y,
      0,
    ),
  ) / 2;

test("a flat of three rooms with doors and five devices in under 25 actions, on a phone", async (t) => {
  const server = await serve(t, { args: [] });
  const page = await blankSheet(t, server, views.phone);
  let actions = 0;
  const press = async (name) => {
    actions++;
    await page.getByRole("button", { name, exact: true }).click();
  };
  actions++;
  await page.getByRole("link", { name: "Draw the plan" }).click();
  await page.getByRole("application").waitFor();
  const { tap, drag } = await sheet(page);
  await assertAccessible(page);
  await assertFits(page);

  await press("Room");
  for (const [i, [from, to, use]] of [
    [[0, 0], [4, 3], "Kitchen"],
    [[4, 0], [9, 3], "Bedroom"],
    [[0, 3], [9, 5], "Hall"],
  ].entries()) {
    actions++;
    await drag(from, to);
    if (i === 0) await sayWho(page);
    await press(use);
    await page.getByRole("button", { name: use, exact: true, pressed: true }).waitFor();
  }
  await inBoth(page, async (scheme) => {
    await assertAccessible(page);
    await assertFits(page);
    await shot(page, `plan-rooms-phone-${scheme}`, { fullPage: false });
  });

  await press("Opening");
  for (const place of [
    [2, 3],
    [7, 3],
    [0, 4],
  ]) {
    actions++;
    await tap(place);
    await page.getByRole("status").filter({ hasText: "Door, " }).waitFor({ state: "attached" });
  }
  await press("Put up");
  await press("Smoke");
  for (const [i, place] of [
    [2, 1.5],
    [6.5, 1.5],
    [4.5, 4],
    [1, 4],
    [8, 4],
  ].entries()) {
    actions++;
    await tap(place);
    await page.waitForFunction((n) => document.querySelectorAll(".board .mark").length === n, i + 1);
  }
  assert.ok(actions < 25, `${actions} actions`);
  await assertAccessible(page);
  await assertFits(page);
  await shot(page, "plan-flat-phone", { fullPage: false });
  // What is open is on the server when nothing waits any more.
  await page.waitForFunction(() => !document.body.textContent.includes("waiting"));

  const { site, plans } = await kept(page, server);
  const rooms = Object.fromEntries(plans[0].rooms.map((room) => [room.name, area(room.outline)]));
  // 4 x 3, 5 x 3 and 9 x 2 m, on squares of 0.25 m.
  assert.deepEqual(rooms, { Kitchen: 12, Bedroom: 15, Hall: 18 });
  assert.equal(Object.keys(site.openings).length, 3);
  assert.equal(Object.keys(site.devices).length, 5);
  assert.deepEqual(
    Object.values(site.devices)
      .map((device) => site.rooms[device.room].name)
      .sort(),
    ["Bedroom", "Hall", "Hall", "Hall", "Kitchen"],
  );
});

test("by keyboard alone: one room and one device, with no signal", async (t) => {
  const server = await serve(t, { args: [] });
  const page = await blankSheet(t, server, views.desk);
  await keptOffline(page);
  page.networkMayFail = true;
  await server.stop();
  await page.context().setOffline(true);
  await page.getByRole("link", { name: "Draw the plan" }).press("Enter");
  const board = page.getByRole("application");
  await board.waitFor();
  const { keyboard } = page;
  const keys = async (key, n) => {
    for (let i = 0; i < n; i++) await keyboard.press(key);
  };
  /** Presses Tab until a control of that name has the focus: what a hand without a mouse does. */
  const reach = async (name) => {
    for (let i = 0; i < 80; i++) {
      await keyboard.press("Tab");
      if ((await page.evaluate(() => document.activeElement?.textContent?.trim())) === name) return;
    }
    assert.fail(`Tab does not reach "${name}"`);
  };
  await reach("Room");
  await keyboard.press("Enter");
  assert.equal(await board.evaluate((el) => el === document.activeElement), true, "the pen has the focus");
  await keys("Shift+ArrowLeft", 1);
  await keyboard.press("Enter");
  await keys("Shift+ArrowRight", 2);
  await keys("Shift+ArrowUp", 2);
  await page.getByRole("status").filter({ hasText: " across, " }).first().waitFor({ state: "attached" });
  await keyboard.press("Enter");
  await sayWho(page);
  await page.getByLabel("Name of the room").waitFor();
  await reach("Put up");
  await keyboard.press("Enter");
  await reach("Smoke");
  await keyboard.press("Enter");
  await keys("Shift+ArrowLeft", 1);
  await keys("Shift+ArrowDown", 1);
  await keyboard.press("Enter");
  await page.locator(".board .mark").waitFor();
  await page.getByRole("status").filter({ hasText: "in Room 1" }).first().waitFor({ state: "attached" });
  await inBoth(page, async (scheme) => {
    await assertAccessible(page);
    await assertFits(page, { target: 44 });
    await shot(page, `plan-keys-desk-${scheme}`, { fullPage: false });
  });
});

test("a picture is traced: two points and their distance give areas right to 1 %", async (t) => {
  const server = await serve(t, { args: [] });
  const page = await blankSheet(t, server, views.desk);
  await page.getByRole("link", { name: "Draw the plan" }).click();
  await page.getByRole("application").waitFor();
  // Two rooms drawn at 137 px a metre: 6.2 x 4.1 m, and 3.3 x 4.1 m to its right, from (100, 150) on.
  const png = await page.evaluate(async () => {
    const canvas = document.createElement("canvas");
    [canvas.width, canvas.height] = [1600, 900];
    const pen = canvas.getContext("2d");
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, 1600, 900);
    pen.lineWidth = 6;
    pen.strokeRect(100, 150, 6.2 * 137, 4.1 * 137);
    pen.strokeRect(100 + 6.2 * 137, 150, 3.3 * 137, 4.1 * 137);
    const blob = await new Promise((done) => canvas.toBlob(done, "image/png"));
    return Array.from(new Uint8Array(await blob.arrayBuffer()));
  });
  const file = join(tmpdir(), `plan-${process.pid}.png`);
  await writeFile(file, Buffer.from(png));
  // The picture lies under a storey: the first room makes one, and undo takes it away again.
  await page.getByRole("button", { name: "More", exact: true }).click();
  await page.getByRole("button", { name: /^Picture to trace/ }).click();
  await page.getByLabel("Choose a picture or a PDF").setInputFiles(file);
  await sayWho(page);
  const image = page.locator(".board image");
  await image.waitFor({ state: "attached" });
  await page.getByText("Tap one end of a distance that you know.").waitFor();

  /** Where a pixel of the picture is on the screen, now. */
  const on = (x, y) =>
    image.evaluate(
      (el, [x, y]) => {
        const place = new DOMPoint(x, y).matrixTransform(el.getScreenCTM());
        return [place.x, place.y];
      },
      [x, y],
    );
  const tap = async (x, y) => page.mouse.click(...(await on(x, y)));
  const right = 100 + 6.2 * 137;
  await tap(100, 150);
  await tap(right, 150);
  await page.getByLabel("True distance").fill("6.2 m");
  await page.getByRole("button", { name: "Set it" }).click();
  await page.getByText("Drag from corner to corner").waitFor();
  for (const [i, [from, to]] of [
    [
      [100, 150],
      [right, 150 + 4.1 * 137],
    ],
    [
      [right, 150],
      [right + 3.3 * 137, 150 + 4.1 * 137],
    ],
  ].entries()) {
    await tap(...from);
    await tap(...to);
    await page.waitForFunction((n) => document.querySelectorAll(".board .room").length === n, i + 1);
    await page.getByLabel("Name of the room").waitFor(); // drawn is a preview; what has a name to be given is kept
  }
  await shot(page, "plan-traced-desk", { fullPage: false });
  await page.waitForFunction(() => !document.body.textContent.includes("waiting"));
  const { plans } = await kept(page, server);
  for (const [i, true_] of [6.2 * 4.1, 3.3 * 4.1].entries()) {
    const drawn = area(plans[0].rooms[i].outline);
    assert.ok(Math.abs(drawn / true_ - 1) < 0.01, `room ${i + 1}: ${drawn} m² of ${true_}`);
  }
});

test("outlines of drawings that other programs wrote become rooms, and a page of a PDF lies under the sheet", async (t) => {
  const server = await serve(t, { args: [] });
  const page = await blankSheet(t, server, views.phone);
  await page.getByRole("link", { name: "Draw the plan" }).click();
  await page.getByRole("application").waitFor();
  const more = async (name) => {
    await page.getByRole("button", { name: "More", exact: true }).click();
    await assertAccessible(page);
    await assertFits(page);
    await page.getByRole("button", { name }).click();
  };
  const given = (name, mimeType, text) => ({ name, mimeType, buffer: Buffer.from(text, "latin1") });
  await more(/^Outlines from a file/);
  // README.md of the folder says which programs wrote them: kitchen 4 x 3 m, hall 2 x 3 m, lounge 6 x 3 m.
  const drawings = new URL("../../internal/draught/testdata/import/", import.meta.url);
  const choose = page.getByLabel("Choose an SVG or DXF file");
  const dxf = await readFile(new URL("polylines-mm.dxf", drawings), "latin1");
  const lines = dxf.split("\n");
  const entities = lines.findIndex((line) => line.trim() === "ENTITIES");
  const x = lines.findIndex((line, i) => i > entities && line.trim() === "10") + 1;
  lines[x] = "abc";
  await choose.setInputFiles(given("bad.dxf", "image/vnd.dxf", lines.slice(0, x + 3).join("\n")));
  await page
    .getByRole("alert")
    .getByText(`Line ${x + 1}`, { exact: true })
    .waitFor();
  await shot(page, "plan-outlines-bad-phone", { fullPage: false });
  await choose.setInputFiles(given("flat.dxf", "image/vnd.dxf", dxf));
  await page.getByText("6.00 m across, 6.00 m up.").waitFor();
  for (const room of ["Kitchen12", "Hall6", "Lounge18"]) await page.getByText(`${room}.0 m²`).waitFor();
  await assertAccessible(page);
  await assertFits(page);
  await shot(page, "plan-outlines-phone", { fullPage: false });
  // This one is drawn in centimetres and does not say so.
  const svg = await readFile(new URL("groups-cm.svg", drawings), "latin1");
  await choose.setInputFiles(given("flat.svg", "image/svg+xml", svg));
  await page.getByLabel("A unit of the drawing is one of").selectOption("cm");
  await page.getByText("6.00 m across, 6.00 m up.").waitFor();
  await page.getByRole("button", { name: "Take it onto Ground floor" }).click();
  await sayWho(page);
  await page.waitForFunction(() => document.querySelectorAll(".board .room").length === 3);

  await more(/^Picture to trace/);
  const pdf = `%PDF-1.4
1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj
2 0 obj<</Type/Pages/Kids[3 0 R]/Count 1>>endobj
3 0 obj<</Type/Page/Parent 2 0 R/MediaBox[0 0 600 300]/Contents 4 0 R>>endobj
4 0 obj<</Length 22>>stream
3 w 50 50 400 200 re S
endstream endobj
trailer<</Root 1 0 R>>`;
  await page.getByLabel("Choose a picture or a PDF").setInputFiles(given("flat.pdf", "application/pdf", pdf));
  const image = page.locator(".board image");
  await image.waitFor({ state: "attached" });
  // 600 x 300 points, drawn 2000 px wide.
  assert.deepEqual([await image.getAttribute("width"), await image.getAttribute("height")], ["2000", "1000"]);
  await page.waitForFunction(() => !document.body.textContent.includes("waiting"));
  const { plans } = await kept(page, server);
  const rooms = plans[0].rooms.map((room) => [room.name, Math.round(area(room.outline) * 100) / 100]);
  assert.deepEqual(Object.fromEntries(rooms), { Kitchen: 12, Hall: 6, Lounge: 18 });
});

test("a plan that is full of devices fits and can be read out, in both schemes", async (t) => {
  const server = await serve(t);
  const { page } = await openJob(t, server, "survey/plan/ground");
  await page.getByRole("application").waitFor();
  for (const [name, view, target] of [
    ["phone", views.phone, 56],
    ["desk", views.desk, 44],
  ]) {
    await page.setViewportSize(view.viewport);
    await inBoth(page, async (scheme) => {
      await assertAccessible(page);
      await assertFits(page, { target });
      await shot(page, `plan-mill-${name}-${scheme}`, { fullPage: false });
    });
  }
});
