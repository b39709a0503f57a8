// A panel of one's own in a job: faults by line, then taken over, keyed by, drawn as a file, and taken out again.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import test from "node:test";
import { assertAccessible, assertFits, inBoth, openJob, serve, shot, views } from "./harness.js";

const ladder = await readFile(new URL("../../panel/profiles/ladder.yaml", import.meta.url), "utf8");
const file = (text) => ({ name: "my-ladder.yaml", mimeType: "application/yaml", buffer: Buffer.from(text) });

test("a profile of one's own", async (t) => {
  const server = await serve(t);
  const { page } = await openJob(t, server, "survey/panel");
  await page.getByRole("button", { name: "How it asks, or a profile of your own" }).click();
  const sheet = page.getByRole("dialog");
  await sheet.getByRole("img", { name: "Dialogue of the panel Ladder 1.0" }).waitFor();
  await sheet.getByText("paths: back-up path alone").waitFor();
  await inBoth(page, async (scheme) => {
    await assertAccessible(page);
    await assertFits(page);
    await shot(page, `profile-phone-${scheme}`);
  });

  const choose = sheet.getByLabel("Choose a profile file");
  await choose.setInputFiles(
    file(ladder.replace('HEAT: "06"', "HEAT: 06").replace("title: Ladder", "title: My ladder")),
  );
  await sheet.getByRole("alert").getByText("my-ladder.yaml: 1 fault. It is not used.").waitFor();
  const line = 1 + ladder.slice(0, ladder.indexOf("HEAT:")).split("\n").length - 1;
  await sheet.getByRole("alert").getByText(`Line ${line}, column`).waitFor();
  await shot(page, "profile-fault-phone");
  assert.equal(await sheet.getByRole("button", { name: /in this job/ }).count(), 0, "what has a fault can not be used");

  await choose.setInputFiles(
    file(ladder.replace("title: Ladder", "title: My ladder").replace("shows: ZONE?", "shows: WHICH ZONE?")),
  );
  await sheet.getByText("Read from my-ladder.yaml, not in use yet.").waitFor();
  await sheet.getByRole("button", { name: "Use My ladder in this job" }).click();
  await sheet.getByText("My ladder is used in this job now.").waitFor();
  await sheet.getByText("This job's own profile.").waitFor();
  await page.setViewportSize(views.desk.viewport);
  await sheet.getByRole("img", { name: "Dialogue of the panel My ladder 1.0" }).waitFor();
  await inBoth(page, async (scheme) => {
    await assertAccessible(page);
    await assertFits(page, { target: 44 });
    await shot(page, `profile-desk-${scheme}`);
  });
  const [download] = await Promise.all([
    page.waitForEvent("download"),
    sheet.getByRole("link", { name: "Take the drawing as a file" }).click(),
  ]);
  assert.match(
    await readFile(await download.path(), "utf8"),
    /^<svg [^>]*aria-label="Dialogue of the panel My ladder 1\.0"/,
  );

  await sheet.getByRole("button", { name: "Close" }).click();
  assert.equal(
    await sheet.getByLabel("Panel profile").evaluate((pick) => pick.selectedOptions[0].textContent),
    "My ladder 1.0, this job's own",
  );
  await sheet.getByRole("button", { name: "How it asks, or a profile of your own" }).click();
  await sheet.getByRole("button", { name: "Take this job's own profile out" }).click();
  await sheet.getByText("The profile of its own was taken out.").waitFor();
  await sheet.getByRole("img", { name: "Dialogue of the panel Ladder 1.0" }).waitFor();
});
