// Beside the keypad: the sheet to print and the guide, whose captions Chromium reads as any player would.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import test from "node:test";
import { assertAccessible, assertFits, keptOffline, open, openJob, serve, shot, views } from "./harness.js";

async function download(page, name) {
  const [file] = await Promise.all([page.waitForEvent("download"), page.getByRole("button", { name }).click()]);
  return { name: file.suggestedFilename(), text: await readFile(await file.path(), "utf8") };
}

/** Contrast is looked at on the phone, size and place on each screen. */
const fits = async (page, name) => {
  for (const [look, { viewport }] of Object.entries(views)) {
    await page.setViewportSize(viewport);
    await assertFits(page, { target: look === "phone" ? 56 : 44 });
    if (look === "phone") await assertAccessible(page);
    await shot(page, `${name}-${look}`);
  }
  await page.setViewportSize(views.phone.viewport);
};

test("the printed sheet and the guide fit and are accessible", async (t) => {
  const server = await serve(t);
  const { page } = await openJob(t, server, "key");
  await page.getByRole("link", { name: "Keying sheet to print" }).click();
  await page.getByRole("heading", { name: "First: on test" }).waitFor();
  await fits(page, "key-sheet");
  assert.deepEqual(
    await page
      .getByRole("link", { name: /^PDF/ })
      .evaluateAll((links) => links.map((a) => new URL(a.href).searchParams.get("sheet"))),
    ["A4", "Letter"],
  );

  await page.getByRole("button", { name: "Back to the zones" }).click();
  await page.getByRole("link", { name: "Keypad guide" }).click();
  await page.getByRole("heading", { name: "Lesson 1: Choose the zone" }).waitFor();
  await fits(page, "key-guide");
  // S is the fourth letter on 7: pressed four times, then OK.
  const picture = page.getByRole("img", { name: "Press: 7777, OK", exact: true }).first();
  assert.deepEqual(await picture.locator(".press").allTextContents(), ["71–4", "OK5"]);

  await page.getByText("the customer", { exact: true }).click();
  await page.getByRole("heading", { name: "What was keyed, and why" }).waitFor();
  await page.getByText("chosen ones", { exact: true }).click();
  await page.getByRole("group", { name: "Zones to show" }).getByRole("button", { name: /^10 / }).click();
  await page.getByRole("heading", { name: /^Zone 10,/ }).waitFor({ state: "detached" });
  await assertFits(page);
  await shot(page, "key-guide-customer");
  const pdf = await page.request.get(
    await page
      .getByRole("link", { name: /^PDF/ })
      .getAttribute("href")
      .then((href) => server.url + href),
  );
  assert.equal((await pdf.body()).subarray(0, 5).toString(), "%PDF-");
});

test("script and captions are made with no signal, and Chromium reads the captions", async (t) => {
  const server = await serve(t);
  const { page } = await openJob(t, server, "key/guide", {});
  await page.getByRole("heading", { name: "Lesson 1: Choose the zone" }).waitFor();
  await keptOffline(page);
  page.networkMayFail = true;
  await page.context().setOffline(true);
  await page.reload();
  await page.getByRole("heading", { name: "Lesson 1: Choose the zone" }).waitFor();
  const script = await download(page, "Script to speak");
  const captions = await download(page, "Captions (WebVTT)");
  assert.deepEqual([script.name, captions.name], ["keypad-lessons.txt", "keypad-lessons.vtt"]);
  assert.match(script.text, /^SCENE 1 {2}0:00/m);
  assert.match(script.text, /^PRACTICE/m);

  const player = await open(t, "about:blank", {});
  await player.route("http://player.test/**", (route) =>
    route.request().url().endsWith(".vtt")
      ? route.fulfill({ contentType: "text/vtt; charset=utf-8", body: captions.text })
      : route.fulfill({ contentType: "text/html", body: "<!doctype html><video></video>" }),
  );
  await player.goto("http://player.test/");
  const cues = await player.evaluate(
    () =>
      new Promise((resolve, reject) => {
        const track = document.createElement("track");
        track.onload = () =>
          resolve(
            [...track.track.cues].map((cue) => ({
              from: cue.startTime,
              to: cue.endTime,
              text: cue.getCueAsHTML().textContent,
            })),
          );
        track.onerror = () => reject(new Error("Chromium does not take the captions"));
        track.src = "guide.vtt";
        document.querySelector("video").append(track);
        track.track.mode = "hidden";
      }),
  );
  // Every block with an arrow became a cue; none lies over the next.
  assert.equal(cues.length, captions.text.match(/-->/g).length);
  assert.ok(cues.length > 100);
  for (const [i, cue] of cues.entries()) {
    assert.ok(cue.to > cue.from && (i === 0 || cue.from >= cues[i - 1].to), `cue ${i + 1}: ${cue.from} to ${cue.to}`);
    for (const line of cue.text.split("\n")) assert.ok(line.length > 0 && line.length <= 42, `cue ${i + 1}: ${line}`);
  }
  // What is spoken is what is shown: the first scene word by word.
  const said = script.text.match(/^SAY\s+([\s\S]*?)\n\n/m)[1].replace(/\s+/g, " ");
  assert.ok(
    cues
      .map((cue) => cue.text)
      .join(" ")
      .replace(/\s+/g, " ")
      .startsWith(said),
  );
});
