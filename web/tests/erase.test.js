// End of contract: what goes and what stays is said first, the name is asked for, and this device forgets as well.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, inBoth, openJob, serve, shot, views } from "./harness.js";

async function begin(t, options = {}) {
  const server = await serve(t);
  const { page, job } = await openJob(t, server, "look", options);
  await page.getByRole("link", { name: "End of contract: erase what is personal" }).click();
  await page.getByLabel("To confirm, type the job's name: Larkwater Mill").waitFor();
  return { page, job, server };
}

/** All that this browser keeps of its jobs, as text. */
const kept = (page) =>
  page.evaluate(
    () =>
      new Promise((done) => {
        const request = indexedDB.open("proofbell");
        request.onsuccess = () => {
          const all = request.result.transaction("jobs").objectStore("jobs").getAll();
          all.onsuccess = () => {
            request.result.close();
            done(JSON.stringify(all.result));
          };
        };
      }),
  );

for (const [name, view] of Object.entries(views)) {
  test(`erasing fits and is accessible, light and dark: ${name}`, async (t) => {
    const { page } = await begin(t, { view });
    await inBoth(page, async (scheme) => {
      await assertAccessible(page);
      await assertFits(page, { target: name === "phone" ? 56 : 44 });
      await shot(page, `erase-${name}-${scheme}`);
    });
  });
}

test("only the whole name erases; then the people are gone, here and on this device, and nothing can be added", async (t) => {
  const { page, job, server } = await begin(t);
  assert.match(await kept(page), /Tamsin Okoro-Lind/);
  // What stood half-typed in this job when its page died goes as well; that of another job stays.
  const half = (of) => `proofbell.typed./job/${of}/look|Note`;
  await page.evaluate(
    (keys) => {
      for (const key of keys)
        localStorage.setItem(key, JSON.stringify({ path: "", label: "Note", text: "Tamsin", at: Date.now() }));
    },
    [half(job), half("other")],
  );
  const erase = page.getByRole("button", { name: "Erase for good" });
  const field = page.getByLabel(/^To confirm/);
  await field.fill("Larkwater");
  assert.ok(await erase.isDisabled());
  await field.fill("Larkwater Mill");
  await erase.click();
  await page.getByText("Erased.").waitFor();
  await page.getByRole("button", { name: "Done" }).click();
  await page.getByText("it can be read, not carried on").first().waitFor();
  await page.waitForFunction(() => !document.body.textContent.includes("Tamsin"));
  const typed = await page.evaluate(() =>
    Object.keys(localStorage).filter((name) => name.startsWith("proofbell.typed.")),
  );
  assert.deepEqual(typed, [half("other")]);
  const { key } = await (await fetch(`${server.url}/api/jobs/${job}`)).json();
  assert.equal(key, "");
  await page.getByLabel("Note for whoever comes next").fill("one more");
  await page.getByRole("button", { name: "Keep the note" }).click();
  await page.getByText("it can be read, not carried on").nth(1).waitFor();
  await page.reload();
  await page.getByRole("heading", { name: "What falls due" }).waitFor();
  await page.waitForFunction(() => !document.body.textContent.includes("Tamsin"));
  const here = await kept(page);
  assert.doesNotMatch(here, /Tamsin/);
  assert.match(here, /"key":""/);
});
