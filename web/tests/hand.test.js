// Hand over: every document is a page that fits and speaks, is signed by finger or by name, given out, and the next issue
// says what changed.
import assert from "node:assert/strict";
import { writeFile } from "node:fs/promises";
import { join } from "node:path";
import test from "node:test";
import {
  assertAccessible,
  assertFits,
  inBoth,
  keptOffline,
  openJob,
  run,
  serve,
  shot,
  views,
  visit,
} from "./harness.js";

const stage = async (t, server, path, look) => (await openJob(t, server, path, look)).page;

const screens = {
  hand: (page) => page.getByRole("link", { name: /^Zone list for the station/ }),
  "hand/paper/owner-guide": (page) => page.getByRole("heading", { name: "What each sound means" }),
  "hand/paper/zone-list": (page) => page.getByRole("heading", { name: "Zones", exact: true }),
  "hand/paper/station-actions": (page) => page.getByRole("heading", { name: "Code, meaning, what to do" }),
  "hand/paper/commissioning": (page) => page.getByRole("heading", { name: "Plans" }),
  "hand/sign/commissioning/owner": (page) => page.getByLabel("Name of who signs"),
  "hand/issue/station": (page) => page.getByRole("button", { name: /^Issue 5 files/ }),
  "hand/station": (page) => page.getByLabel("Account number"),
  "hand/contacts": (page) => page.getByLabel("Telephone").first(),
};

for (const [name, view] of Object.entries(views)) {
  test(`every page of the hand-over fits and is accessible, light and dark: ${name}`, async (t) => {
    const server = await serve(t);
    const page = await stage(t, server, "hand", { view });
    const base = page.url().replace(/\/hand$/, "");
    for (const [path, ready] of Object.entries(screens)) {
      await visit(page, `${base}/${path}`);
      await ready(page).waitFor();
      await inBoth(page, async (scheme) => {
        await assertAccessible(page);
        await assertFits(page, { target: name === "phone" ? 56 : 44 });
        await shot(page, `${path.replaceAll("/", "-")}-${name}-${scheme}`);
      });
    }
  });
}

test("fill, sign, issue, change a zone: the next issue says what changed", async (t) => {
  const server = await serve(t);
  const page = await stage(t, server, "hand", {});
  const base = page.url().replace(/\/hand$/, "");

  // What is missing is filled in where it is asked for.
  await page.getByRole("button", { name: "Account, going live" }).click();
  await page.getByLabel("Going live on").fill("2026-09-20");
  await page.getByRole("button", { name: "Close" }).click();
  await page.getByRole("link", { name: /^Zone list for the station.*nothing missing/ }).waitFor();

  // Signed by finger.
  await visit(page, `${base}/hand/paper/handover-record`);
  await page.getByRole("button", { name: "Sign: Owner or agent" }).click();
  await page.getByLabel("Name of who signs").fill("Imelda Thrane");
  const pad = page.locator("svg.pad");
  const box = await pad.boundingBox();
  await page.mouse.move(box.x + 30, box.y + 60);
  await page.mouse.down();
  for (let i = 0; i <= 20; i++) await page.mouse.move(box.x + 30 + i * 12, box.y + 50 + 30 * Math.sin(i));
  await page.mouse.up();
  await shot(page, "hand-signing");
  await page.getByRole("button", { name: "Sign", exact: true }).click();
  await page.getByText(/^Imelda Thrane, /).waitFor();
  assert.equal(await page.locator(".signs path").count(), 1);

  // By keyboard alone: the typed name stands for it.
  const other = page.getByRole("button", { name: "Sign: For the firm" });
  await other.focus();
  await page.keyboard.press("Enter");
  await page.getByLabel("Name of who signs").focus();
  await page.keyboard.press("Enter");
  await page.getByText(/^Tamsin Okoro-Lind, /).waitFor();

  // Given out; the file is one that verify knows, and no other.
  await visit(page, `${base}/hand/issue/station`);
  await page.getByRole("button", { name: "Issue 5 files" }).click();
  await page.getByText("5 files were given out").waitFor();
  const link = page.getByRole("dialog").getByRole("link", { name: "Zone list for the station, PDF" });
  const [download] = await Promise.all([page.waitForEvent("download"), link.click()]);
  assert.match(download.suggestedFilename(), /^larkwater-mill.*-zone-list-\d+\.pdf$/);
  const given = join(server.data, "given.pdf");
  await download.saveAs(given);
  await page.getByRole("button", { name: "Done" }).click();
  await page.getByRole("listitem").filter({ hasText: "Zone list for the station, PDF" }).first().waitFor();

  // A zone is changed: the list, the document and the next issue say so.
  await visit(page, `${base}/schedule/zone/12`);
  await page.getByLabel("Label", { exact: true }).fill("Entrance smoke");
  await page.getByRole("button", { name: "Close" }).click();
  await page.getByRole("link", { name: "Zone 12, Entrance smoke" }).waitFor();
  await visit(page, `${base}/hand/paper/zone-list`);
  const change = "Zone 12, Label as spoken: Entrance smoke, before: Hall smoke";
  await page.getByText(change).waitFor();
  await visit(page, `${base}/hand/paper/handover-record`);
  await page.getByText("signed before the last changes").first().waitFor();
  await visit(page, `${base}/hand`);
  await page.getByText("1 change since: issue it again").first().click();
  await page.getByText(change).waitFor();
  await shot(page, "hand-changed");
  await visit(page, `${base}/hand/issue/station`);
  await page.getByRole("button", { name: "Issue 5 files" }).click();
  await page.getByText("5 files were given out").waitFor();
  await page.getByRole("button", { name: "Done" }).click();
  await page.getByText("1 change since: issue it again").waitFor({ state: "detached" });

  page.networkMayFail = true;
  await server.stop();
  const good = await run(["verify", "--data", server.data, given]);
  assert.equal(good.code, 0, good.stdout + good.stderr);
  assert.match(good.stdout, /Zone list for the station, pdf, for: station/);
  await writeFile(given, "changed", { flag: "a" });
  const bad = await run(["verify", "--data", server.data, given]);
  assert.equal(bad.code, 1);
  assert.match(bad.stdout, /Its pin fits/);
});

test("documents are read and signed with no signal, and in German", async (t) => {
  const server = await serve(t);
  const page = await stage(t, server, "hand", {});
  await screens.hand(page).waitFor();
  await keptOffline(page);
  page.networkMayFail = true;
  await page.evaluate(() => localStorage.setItem("proofbell.language", "de"));
  await page.reload();
  await page.getByRole("link", { name: /^Zonenliste für die Leitstelle/ }).waitFor();
  await page.context().setOffline(true);
  await page.reload();
  await page.getByRole("link", { name: /^Anleitung für das Haus/ }).click();
  await page.getByRole("heading", { name: "Was jeder Ton bedeutet" }).waitFor();
  await page.getByText("sobald Verbindung besteht").waitFor();
  await shot(page, "hand-german");
  await assertFits(page);
  await page.getByRole("button", { name: "Unterschreiben: Betreiber oder Vertreter" }).click();
  await page.getByLabel("Name", { exact: true }).fill("Imelda Thrane");
  await page.getByRole("button", { name: "Unterschreiben", exact: true }).click();
  await page.getByText(/^Imelda Thrane, /).waitFor();
});
