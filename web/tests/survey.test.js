// The survey with no signal, from an empty job to a mended stop, on a phone; then the signal comes back, and there is one
// copy of everything.
import assert from "node:assert/strict";
import { createDecipheriv } from "node:crypto";
import { writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import test from "node:test";
import { assertAccessible, assertFits, draft, keptOffline, open, openJob, serve, shot, views } from "./harness.js";

/**
 * A photograph as a phone writes it: 3000 x 1000 px as stored, black on its left third, held turned (orientation 6: the
 * picture has to be turned a quarter to the right) and with the position of the house. The camera's block is made by hand:
 * Exif 2.32, TIFF 6.0.
 */
async function photograph(page) {
  const plain = await page.evaluate(async () => {
    const canvas = document.createElement("canvas");
    [canvas.width, canvas.height] = [3000, 1000];
    const pen = canvas.getContext("2d");
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, 3000, 1000);
    pen.fillStyle = "#000";
    pen.fillRect(0, 0, 1000, 1000);
    const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", 0.9));
    return Array.from(new Uint8Array(await blob.arrayBuffer()));
  });
  const tiff = Buffer.alloc(120);
  tiff.write("MM\0*", 0, "latin1");
  tiff.writeUInt32BE(8, 4);
  tiff.writeUInt16BE(2, 8);
  const field = (at, tag, type, count, value) => {
    tiff.writeUInt16BE(tag, at);
    tiff.writeUInt16BE(type, at + 2);
    tiff.writeUInt32BE(count, at + 4);
    if (type === 3) tiff.writeUInt16BE(value, at + 8);
    else if (typeof value === "string") tiff.write(value, at + 8, "latin1");
    else tiff.writeUInt32BE(value, at + 8);
  };
  field(10, 0x0112, 3, 1, 6); // orientation
  field(22, 0x8825, 4, 1, 38); // where the position is described
  tiff.writeUInt16BE(2, 38);
  field(40, 1, 2, 2, "N\0");
  field(52, 2, 5, 3, 70); // latitude: three fractions
  for (const [i, n] of [51, 1, 30, 1, 0, 1].entries()) tiff.writeUInt32BE(n, 70 + 4 * i);
  const exif = Buffer.concat([Buffer.from("Exif\0\0", "latin1"), tiff]);
  const head = Buffer.from([0xff, 0xe1, (exif.length + 2) >> 8, (exif.length + 2) & 0xff]);
  return Buffer.concat([Buffer.from(plain.slice(0, 2)), head, exif, Buffer.from(plain.slice(2))]);
}

const api = async (server, path) => (await fetch(server.url + path)).json();

test("from an empty job to a mended stop with no signal, then one copy of everything", async (t) => {
  const server = await serve(t, { args: [] });
  const page = await open(t, server.url);
  await page.getByLabel("Name of the building").fill("Ferry house");
  await page.getByRole("button", { name: "Begin" }).click();
  await page.getByText("Begin with the rooms").waitFor();
  const job = page.url().split("/")[4];
  await keptOffline(page);
  await page.getByText("Begin with the rooms").waitFor();
  page.networkMayFail = true;
  await server.stop();
  await page.context().setOffline(true);
  await assertAccessible(page);
  await assertFits(page);
  await shot(page, "survey-empty-phone");

  // Rooms by name, return, next; what they are used as by one tap after.
  await page.getByRole("button", { name: "Rooms, by name", exact: true }).click();
  const name = page.getByLabel("Name of the room");
  await name.fill("Hall");
  await name.press("Enter");
  await page.getByLabel("Name", { exact: true }).last().fill("Someone New");
  await page.getByRole("button", { name: "At work" }).click();
  const sheet = page.getByRole("dialog");
  await sheet.getByRole("button", { name: "Hall", exact: true }).waitFor();
  for (const room of ["Kitchen", "Bedroom"]) {
    await name.fill(room);
    await name.press("Enter");
  }
  await sheet.getByRole("button", { name: "Bedroom", exact: true }).waitFor();
  const order = await page.locator("ol li .name").allTextContents();
  assert.deepEqual(order, ["Bedroom", "Kitchen", "Hall"], "the last one typed is on top");
  await sheet.getByRole("button", { name: "Kitchen?" }).click();
  await sheet.getByRole("button", { name: "Kitchen", exact: true, pressed: true }).waitFor();
  await page.getByRole("button", { name: "Sleeps here" }).first().click();
  await page.getByRole("button", { name: "Sleeps here", pressed: true }).waitFor();
  await assertAccessible(page);
  await assertFits(page);
  await shot(page, "survey-rooms-phone");

  // Alarms room by room; the first with its label photographed.
  await page.getByRole("button", { name: "On to the alarms" }).click();
  const raw = await photograph(page);
  const file = join(tmpdir(), `label-${process.pid}.jpg`);
  await writeFile(file, raw);
  for (const [i, room] of ["Hall", "Kitchen", "Bedroom"].entries()) {
    await page.getByRole("button", { name: `Add an alarm in ${room}` }).click();
    await page.getByRole("button", { name: room === "Kitchen" ? "Heat" : "Smoke", exact: true }).click();
    await page.getByRole("heading", { name: `Alarm A${i + 1}` }).waitFor();
    if (i === 0) {
      await page.locator("input[type=file][capture]").setInputFiles(file);
      const image = page.getByRole("img", { name: "Photograph of the label of A1" });
      await image.waitFor();
      await page.waitForFunction(() => document.querySelector("figure img")?.naturalWidth > 0);
      const seen = await image.evaluate(async (img) => {
        const canvas = document.createElement("canvas");
        [canvas.width, canvas.height] = [img.naturalWidth, img.naturalHeight];
        const pen = canvas.getContext("2d");
        pen.drawImage(img, 0, 0);
        const at = (x, y) => pen.getImageData(x * canvas.width, y * canvas.height, 1, 1).data[0];
        return {
          size: [canvas.width, canvas.height],
          top: at(0.5, 0.1),
          bottom: at(0.5, 0.9),
        };
      });
      // Stored lying, 3000 x 1000 with black on the left; turned to the right it stands, black above, and is shrunk to 2000.
      assert.deepEqual(seen.size, [667, 2000]);
      assert.ok(seen.top < 40 && seen.bottom > 215, `turned: ${JSON.stringify(seen)}`);
      await page.getByRole("group", { name: "Year on the label" }).getByRole("button").nth(3).click();
      await page.getByRole("group", { name: "Month on the label" }).getByRole("button", { name: "04" }).click();
      await page.waitForFunction(() =>
        /^\d{4}-04$/.test(
          [...document.querySelectorAll("input")].find((i) => /^\d{4}-\d\d$/.test(i.value))?.value ?? "",
        ),
      );
      await assertAccessible(page);
      await assertFits(page);
      await shot(page, "survey-head-phone");
    }
    await page.getByRole("button", { name: "All alarms" }).click();
  }
  await page.getByText("label photographed", { exact: true }).waitFor();
  await assertAccessible(page);
  await assertFits(page);
  await shot(page, "survey-heads-phone");

  // One press tells which belong together; a second one that does not fit is named, and the third settles it.
  await page.getByRole("button", { name: "On to pressing them" }).click();
  const press = async (main, also) => {
    await page.getByRole("button", { name: main }).click();
    for (const one of also) await page.getByRole("button", { name: new RegExp(`^${one} ?`) }).click();
    await page.getByRole("button", { name: /sounded: keep$/ }).click();
    await page.getByRole("heading", { name: "Press one, hear which sound" }).waitFor();
  };
  await press("Press A1 in Hall", ["A2"]);
  await page.getByText(/Group A A1, A2/).waitFor();
  await press("Press A2 in Kitchen", []);
  await page.getByText("A2 pressed: A1 stayed silent").waitFor();
  await assertAccessible(page);
  await assertFits(page);
  await shot(page, "survey-contradiction-phone");
  await press(/^A2 Kitchen/, ["A1"]);
  await page.getByText("Does not fit").waitFor({ state: "detached" });
  await press("Press A3 in Bedroom", []);
  await page.getByText(/Alone A3/).waitFor();
  await page.getByRole("button", { name: "Take this over" }).click();
  await page.getByRole("button", { name: "Take this over" }).waitFor({ state: "detached" });
  await shot(page, "survey-groups-phone");

  // Behind the lid.
  await page.getByRole("button", { name: "On to the panel" }).click();
  await page.getByRole("group", { name: "Panel profile" }).waitFor();
  await page.getByText("Ladder", { exact: true }).click();
  await page.getByLabel("Capacity").fill("7.0 Ah");
  await page.getByLabel("Account number").fill("4816");
  await page.getByLabel("Account number").blur();
  await assertAccessible(page);
  await assertFits(page);
  await shot(page, "survey-panel-phone");
  await page.getByRole("button", { name: "On to the questions" }).click();
  await page.getByRole("button", { name: "Send: Ask the owner" }).waitFor();
  await assertAccessible(page);
  await assertFits(page);
  await shot(page, "survey-asks-phone");
  await page.getByRole("button", { name: "Close" }).click();

  // A device, a zone that must not stay as it is, and its mending.
  await page.getByRole("button", { name: "Add what you see" }).click();
  await page.getByRole("button", { name: /^A device/ }).click();
  await page.getByLabel("What it is").selectOption("smoke");
  await page.getByRole("button", { name: "Add", exact: true }).click();
  await page.getByRole("button", { name: "Take this device out" }).waitFor();
  await page.getByRole("button", { name: "Done", exact: true }).click();
  await page.goto(`${server.url}/job/${job}/schedule/add`);
  await page.getByLabel("Label").fill("Hall smoke");
  await page.getByRole("dialog").getByRole("button", { name: "Add", exact: true }).click();
  await page.getByLabel("Kind", { exact: true }).selectOption("smoke");
  await page.getByRole("group", { name: "Device", exact: true }).getByText("Smoke").click();
  await page.getByRole("group", { name: "May users leave it out?" }).getByText("Yes").click();
  await page.getByRole("button", { name: "Done", exact: true }).click();
  await page.goto(`${server.url}/job/${job}/schedule`);
  await page.getByRole("heading", { name: /stops? before anything is keyed/ }).waitFor();
  await assertAccessible(page);
  await assertFits(page);
  await shot(page, "schedule-stop-phone");
  const bypass = page
    .getByRole("article")
    .filter({ hasText: "bypass" })
    .filter({ has: page.getByRole("button", { name: "Apply" }) });
  for (let n = 0; n < 12 && (await bypass.count()) === 0; n++)
    await page.getByRole("button", { name: "Next stop" }).click();
  await bypass.getByRole("button", { name: "Apply" }).click();
  await page.getByText(/bypass is now/).waitFor();

  // The signal comes back.
  await page.context().setOffline(false);
  await server.restart();
  await page.getByText("waiting for a signal").waitFor({ state: "detached", timeout: 45_000 });
  const entries = async () => (await api(server, `/api/jobs/${job}/entries?after=0&limit=2000`)).entries;
  let all = [];
  for (let n = 0; n < 100 && !all.some(({ body }) => /bypass/.test(body.why ?? "")); n++) {
    await new Promise((resolve) => setTimeout(resolve, 200));
    all = await entries();
  }
  const blobs = all.filter(({ kind }) => kind === "blob");
  assert.equal(blobs.length, 1, "one photograph");
  assert.equal(blobs[0].body.about, "/heads/A1");
  const sealed = await fetch(`${server.url}/api/jobs/${job}/blobs/${blobs[0].body.address}`);
  assert.equal(sealed.status, 200);
  // Opened by the book of the format (docs/format/job-book.md, section 5), not by our code: a picture, and nothing of the camera.
  const bytes = Buffer.from(await sealed.arrayBuffer());
  assert.equal(bytes.subarray(0, 3).toString(), "v1:");
  const key = Buffer.from((await api(server, `/api/jobs/${job}`)).key, "base64url");
  const cipher = createDecipheriv("aes-256-gcm", key, bytes.subarray(3, 15));
  cipher.setAAD(Buffer.from(`${job}|blob`)).setAuthTag(bytes.subarray(-16));
  const picture = Buffer.concat([cipher.update(bytes.subarray(15, -16)), cipher.final()]);
  assert.equal(picture.readUInt16BE(0), 0xffd8);
  assert.ok(raw.includes("Exif") && !picture.includes("Exif"), "nothing of the camera is left");
  assert.equal(new Set(all.map(({ id }) => id)).size, all.length);
  const saying = (text) => all.filter(({ body }) => JSON.stringify(body).includes(text)).length;
  for (const room of ["Hall", "Kitchen", "Bedroom"]) assert.equal(saying(`"name":"${room}"`), 1, room);
  assert.equal(all.filter(({ kind, body }) => kind === "reading" && body.what === "sounded").length, 4);
  assert.equal(saying('"groups":{"A":{}}'), 1);
});

test("a table goes out, comes back changed, is refused by its cell, and taken over as one edit that undo takes back", async (t) => {
  const server = await serve(t);
  const { page } = await openJob(t, server, "schedule/table", { name: draft, view: views.desk });
  const [csv] = await Promise.all([
    page.waitForEvent("download"),
    page.getByRole("button", { name: "Write CSV" }).click(),
  ]);
  const chunks = [];
  for await (const chunk of await csv.createReadStream()) chunks.push(chunk);
  const text = Buffer.concat(chunks).toString();
  assert.match(text, /^\ufeffzone,label,kind/);
  const give = (name, content) =>
    page.locator("input[type=file]").setInputFiles({ name, mimeType: "text/csv", buffer: Buffer.from(content) });

  await give("zones.csv", text);
  await page.getByText("Nothing differs from the job.").waitFor();
  await give("zones.csv", text.replace(/^09,Landing smoke,[a-z-]+/m, "09,Whole house,smokey"));
  await page.getByText("zones!C10").waitFor();
  assert.equal(await page.getByRole("button", { name: "Take it over" }).isDisabled(), true);
  await give("zones.csv", text.replace(/^09,Landing smoke/m, "09,Whole house smoke"));
  await page.getByText("zones!B10, Zone 09, label").waitFor();
  await assertAccessible(page);
  await assertFits(page, { target: 44 });
  await shot(page, "schedule-table-desk");
  await page.getByRole("button", { name: "Take 1 change over" }).click();
  await page.getByText("1 change taken over").waitFor();
  await page.getByRole("button", { name: "Undo last edit" }).last().click();
  await page.getByText("Taken back.").waitFor();
  await give("zones.csv", text);
  await page.getByText("Nothing differs from the job.").waitFor();

  const [xlsx] = await Promise.all([
    page.waitForEvent("download"),
    page.getByRole("button", { name: "Write XLSX, all tables" }).click(),
  ]);
  await page.locator("input[type=file]").setInputFiles(
    await xlsx
      .path()
      .then((path) => ({ path }))
      .then(async ({ path }) => ({
        name: "tables.xlsx",
        mimeType: "application/octet-stream",
        buffer: await (await import("node:fs/promises")).readFile(path),
      })),
  );
  await page.getByText("Nothing differs from the job.").waitFor();
  page.networkMayFail = true;
  await page.context().setOffline(true);
  await give("tables.xlsx", "PK");
  await page.getByText("Save it as CSV: that is read without a signal.").waitFor();
});
