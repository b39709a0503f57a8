// What the panel says, and practice with planted mistakes.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, atWork, draft, open, openJob, serve, shot, views } from "./harness.js";
import { listed } from "./keying.js";

async function look(page, name) {
  for (const [view, { viewport }] of Object.entries(views)) {
    await page.setViewportSize(viewport);
    await assertFits(page, { target: view === "phone" ? 56 : 44 });
    if (view === "phone") await assertAccessible(page);
    await shot(page, `practice-${name}-${view}`, { fullPage: view === "phone" });
  }
  await page.setViewportSize(views.phone.viewport);
}

test("a label that the panel can not say gets other words at a tap", async (t) => {
  const server = await serve(t);
  const { page, job } = await openJob(t, server, "key/labels", { name: draft });
  await page.getByText("3 zones need other words").waitFor();
  await look(page, "labels");
  await page.getByRole("button", { name: "Have it say MAINS ALARMS SMOKE" }).click();
  await page.getByText("2 zones need other words").waitFor();

  await page.goto(`${server.url}/job/${job}/schedule/zone/04`);
  const sheet = page.getByRole("dialog");
  await sheet.getByText("ESCAPE is not in the list: BACK said instead").first().waitFor();
  await sheet.getByText("2 other ways to say it").click();
  await sheet.getByRole("button", { name: "Have it say DOOR UP", exact: true }).waitFor();
  await look(page, "label-zone");
  await sheet.getByRole("button", { name: "Apply" }).click();
  await sheet.getByRole("button", { name: "Have it say the label itself" }).waitFor();
  await page.goto(`${server.url}/job/${job}/key`);
  await page.getByRole("link", { name: "What the panel says" }).click();
  await page.getByText("One zone needs other words").waitFor();
  const entries = await listed(page, server, job, ({ body }) => body.patch?.zones?.["04"]);
  assert.deepEqual(
    entries.filter(({ kind }) => kind === "edit").map(({ body }) => body.patch),
    [{ zones: { "09": { label: "Mains alarms smoke" } } }, { zones: { "04": { words: ["BACK", "DOOR", "UP"] } } }],
  );
});

test("mistakes are planted, named and marked, with no signal but for the beginning", async (t) => {
  const server = await serve(t);
  const page = await open(t, server.url);
  await page.getByText("Practice with planted mistakes").click();
  await page.getByLabel("Number", { exact: true }).fill("7");
  await page.getByRole("button", { name: "Begin the practice" }).click();
  await page.getByText("Mistakes are planted here, and findings are hidden.").waitFor();
  const job = page.url().match(/job\/([^/]+)/)[1];
  await atWork(page, job, "marlow");
  await page.goto(`${server.url}/job/${job}/schedule`);
  await page.getByRole("table", { name: "Zones" }).waitFor();
  assert.equal(await page.locator(".tag.stop, .tag.fix, .tag.advise").count(), 0, "the schedule shows no finding");
  await page.goto(`${server.url}/job/${job}/key`);
  await page.getByText("0 of 33 zones keyed", { exact: false }).waitFor();
  assert.equal(await page.getByText("STOP", { exact: true }).count(), 0, "keying shows no stop");

  await page.getByRole("link", { name: "Name a fault" }).click();
  await page.getByText("3 mistakes are planted in this building.", { exact: false }).waitFor();
  // What the file tells of the mistakes is not read: an odd thing that is right is named, and it is a wrong alarm.
  await page.getByLabel("Zone", { exact: true }).selectOption("27");
  await page.getByLabel("What is wrong").selectOption("silent");
  await page.getByRole("button", { name: "Name this fault" }).click();
  await page.getByText("Named so far").waitFor();
  await page.getByText("What the file says besides", { exact: false }).click();
  await page.getByText("Exit delay").last().waitFor();
  await look(page, "name");
  await page.getByRole("button", { name: "Hand in" }).click();
  await page.getByRole("button", { name: "Hand in now" }).click();
  await page.getByRole("heading", { name: "Practice: what was found" }).waitFor();
  await page.getByText("A quiet call for help makes no sound and no light, on purpose.").waitFor();
  assert.deepEqual(await page.locator(".paper dd").allTextContents(), ["3", "0", "3", "1"]);
  assert.ok((await page.getByText("PRACTICE").count()) >= 3);
  assert.ok(!/passed|certified/i.test(await page.locator("main").textContent()));
  const href = await page.getByRole("link", { name: /^PDF/ }).getAttribute("href");
  const pdf = await page.request.get(server.url + href);
  assert.equal((await pdf.body()).subarray(0, 5).toString(), "%PDF-");
  await look(page, "result");
});
