// The page of the receiver: what a badly set panel sends is shown, with the byte at which it is wrong and what it should be.
import assert from "node:assert/strict";
import { createCipheriv } from "node:crypto";
import { once } from "node:events";
import { connect } from "node:net";
import test from "node:test";
import { assertAccessible, assertFits, open, serve, shot, views } from "./harness.js";
import { begin, goOnTest, main, openRun, zonesOf } from "./proving.js";

/** CRC-16/ARC over the body, bit by bit (DC-09-2007 5.5.1.2); 123456789 gives BB3D. */
function crc(body) {
  let sum = 0;
  for (const byte of Buffer.from(body, "latin1")) {
    sum ^= byte;
    for (let i = 0; i < 8; i++) sum = sum & 1 ? (sum >> 1) ^ 0xa001 : sum >> 1;
  }
  return sum.toString(16).toUpperCase().padStart(4, "0");
}
assert.equal(crc("123456789"), "BB3D");

const frame = (body) => `\n${crc(body)}${body.length.toString(16).toUpperCase().padStart(4, "0")}${body}\r`;

/** Sends bytes by one connection, as a panel does, and closes it. */
async function send(server, ...pieces) {
  const [host, port] = server.signals.split(":");
  const socket = connect(Number(port), host);
  await once(socket, "connect");
  for (const piece of pieces) socket.write(Buffer.from(piece, "latin1"));
  socket.end();
  socket.resume();
  await once(socket, "close");
}

const fire = '"SIA-DCS"0001L0#1234[#1234|Nri1/FA005]';
const broken = {
  checksum: `\nFD680026${fire}\r`,
  length: `\nFD670027${fire}\r`,
  kind: frame('"FOO-BAR"0007L0#1234[#1234|x]'),
  garbage: "GET / HTTP/1.1\r\nHost: panel\r\n\r\n",
};

const rows = (page) => page.locator("section", { hasText: "Newest frames" }).getByRole("listitem").getByRole("link");
const ranges = (page) => page.getByRole("group", { name: "The frame, range by range" });
/** The text of the range that is marked. */
const marked = (page) => ranges(page).locator("mark").textContent();

test("a frame that can not be taken says at which byte, why, and what it should be", async (t) => {
  const server = await serve(t, { args: [] });
  const page = await open(t, server.url);
  await page.getByRole("link", { name: /^Receiver/ }).click();
  await page.getByRole("heading", { name: "Receiver", level: 1 }).waitFor();
  await page.getByText("Nothing came since this program was started.").waitFor();
  await page.getByText("This is never a monitoring station.").waitFor();
  await assertFits(page);
  await assertAccessible(page);
  await shot(page, "receiver-empty");

  await send(server, frame(fire));
  await rows(page).filter({ hasText: "fire alarm, zone 005" }).filter({ hasText: "stored, not answered" }).waitFor();

  await send(server, broken.checksum);
  await rows(page)
    .filter({ hasText: /wrong checksum, byte 1$/ })
    .click();
  await page.getByText("The checksum says FD68. Over the bytes that came it is FD67.").waitFor();
  assert.equal(await marked(page), "FD68");
  const right = page.getByRole("group", { name: "The right frame, range by range" });
  assert.match(await right.textContent(), /FD67\s*0026/);
  await page.getByText("Nothing. What is damaged is not answered").waitFor();
  await assertFits(page);
  await assertAccessible(page);
  await shot(page, "receiver-checksum");

  // A tap on a range opens its lesson; a tap on a lesson marks its range.
  await ranges(page).getByText("#1234", { exact: true }).click();
  await page.getByText("1 to 16 hexadecimal digits behind #.").waitFor();
  await page
    .getByRole("button", { name: /^Length/ })
    .first()
    .click();
  assert.equal(await marked(page), "0026");
  await page.getByLabel("Bytes in hexadecimal").check();
  await page.getByText("30 30 32 36").first().waitFor();

  for (const [name, inList, says] of [
    ["length", /wrong length, byte 5$/, "The length says 0027. The body that came has 0026."],
    ["kind", /unknown kind, byte 10$/, "The kind FOO-BAR is not one that is read here."],
    ["garbage", /no frame, byte 0$/, /bytes that belong to no frame/],
  ]) {
    await page.getByRole("link", { name: "All frames" }).click();
    await send(server, broken[name]);
    await rows(page).filter({ hasText: inList }).first().click();
    await page.getByText(says).first().waitFor();
    await assertFits(page);
    await shot(page, `receiver-${name}`);
  }
  await page.goBack();
  await page.getByLabel("Only what could not be taken").check();
  await rows(page).filter({ hasText: "wrong checksum" }).waitFor();
  assert.equal(await rows(page).filter({ hasText: "fire alarm" }).count(), 0, "what was taken is left out");
});

test("at a desk: the list stands still while one reads, and the keyboard is enough", async (t) => {
  const server = await serve(t, { args: [] });
  const page = await open(t, `${server.url}/receiver`, { view: views.desk });
  await page.getByText("Point a panel here").waitFor();
  await send(server, broken.checksum, frame('"ADM-CID"0002L0#4816[#4816|1110 01 005][KSECRETKEY][SMill]'));
  const contact = rows(page).filter({ hasText: "zone 005" });
  await contact.waitFor();
  await contact.focus();
  await page.keyboard.press("Enter");
  await ranges(page).focus();
  assert.equal(await marked(page), "110");
  await page.keyboard.press("ArrowRight");
  assert.equal(await marked(page), " 01");
  await page.keyboard.press("End");
  await page.keyboard.press("ArrowLeft");
  assert.equal(await marked(page), "[SMill]");
  await page.keyboard.press("ArrowLeft");
  await page.getByText("May carry a key or a code: only its letter is shown.").waitFor();
  assert.doesNotMatch(await page.locator("main").textContent(), /SECRET/);
  const lesson = page.getByRole("button", { name: /^Field K/ });
  await lesson.focus();
  await page.keyboard.press("Home");
  assert.equal(await marked(page), "0A", "the lessons follow the keys as well");

  await page.getByRole("button", { name: "Pause" }).click();
  const before = await rows(page).count();
  await send(server, frame('"NULL"0000L0#4816[]'));
  await page.getByRole("button", { name: "1 newer: show it" }).waitFor();
  assert.equal(await rows(page).count(), before);
  await page.getByRole("button", { name: "1 newer: show it" }).click();
  await rows(page).filter({ hasText: "supervision, no event" }).waitFor();
  for (const colorScheme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme });
    await assertFits(page, { target: 44 });
    await assertAccessible(page);
    await shot(page, `receiver-desk-${colorScheme}`);
  }
});

/** A frame as an encrypting panel sends it: DC-09-2013 5.4.4, with a pad of letters. */
function encrypted(key, token, number, account, inner) {
  const plain = `${"p".repeat(16 - ((inner.length + 1) % 16))}|${inner}`;
  const cipher = createCipheriv("aes-128-cbc", Buffer.from(key, "hex"), Buffer.alloc(16)).setAutoPadding(false);
  const region = Buffer.concat([cipher.update(plain, "latin1"), cipher.final()])
    .toString("hex")
    .toUpperCase();
  return frame(`"*${token}"${number}L0#${account}[${region}`);
}

/** The time stamp of a frame: UTC, month before day. */
function stamp() {
  const [day, time] = new Date().toISOString().split("T");
  const [year, month, date] = day.split("-");
  return `_${time.slice(0, 8)},${month}-${date}-${year}`;
}

test("an encrypted panel, set up with a key, proves a device to the line; another key is said in words", async (t) => {
  const key = "000102030405060708090a0b0c0d0e0f";
  const { page, server, job } = await begin(t);
  await page.goto(`${server.url}/job/${job}/hand/station`);
  const field = page.getByLabel("Key, as it stands in the panel");
  page.requestMayBeRefused = true;
  await field.fill("too short");
  await page.getByRole("button", { name: "Keep this key" }).click();
  await page.getByText("This is not a transmission key.").waitFor();
  page.requestMayBeRefused = false;
  await field.fill(key);
  await page.getByRole("button", { name: "Keep this key" }).click();
  await page.getByText("A key is kept here, sealed.").waitFor();
  assert.doesNotMatch(await page.content(), new RegExp(key), "kept, it is not on the page any more");
  await page.getByRole("button", { name: "Show the key" }).click();
  await page.getByText(key).waitFor();
  await assertFits(page);
  await assertAccessible(page);
  await shot(page, "receiver-key");
  await page.getByRole("button", { name: "Hide it" }).click();
  const book = await (await fetch(`${server.url}/api/jobs/${job}/entries?after=0&limit=2000`)).text();
  assert.match(book, /"kind":"reveal"/);
  assert.doesNotMatch(book, new RegExp(key));
  assert.doesNotMatch(server.log, new RegExp(key));

  await page.goto(`${server.url}/job/${job}/prove`);
  await openRun(page);
  await goOnTest(page);
  const zones = await zonesOf(server, job);
  const title = await page.getByRole("article").getByRole("heading").first().textContent();
  const zone = Object.keys(zones).find((id) => title.includes(zones[id].label)) ?? "";
  const { code, area } = zones[zone];
  await main(page)
    .filter({ hasText: /^I trip it/ })
    .click();
  const event = (q, number) =>
    encrypted(
      key,
      "ADM-CID",
      number,
      "4816",
      `#4816|${q}${code} ${area.padStart(2, "0")} ${zone.padStart(3, "0")}]${stamp()}`,
    );
  await send(server, event(1, "9001"));
  await page.waitForFunction(() =>
    /line proved/.test(document.querySelector("article [role=img]")?.getAttribute("aria-label") ?? ""),
  );
  await shot(page, "receiver-encrypted-proved");

  // The panel is given another key: it is said where one stands, and leads to the frame.
  const other = key.replace("00", "ff");
  await send(
    server,
    encrypted(other, "ADM-CID", "9002", "4816", `#4816|3${code} 01 ${zone.padStart(3, "0")}]${stamp()}`),
  );
  await page.getByRole("button", { name: "Seen" }).click();
  await page.getByText("A frame for account 4816 does not decrypt: key or mode differs.").waitFor();
  await assertFits(page);
  await shot(page, "receiver-other-key");
  await page.getByRole("link", { name: "Look at the frame" }).click();
  await page.getByText("Compare the key at the panel with the key of the job").waitFor();
  await page.getByRole("link", { name: "Key of this account" }).waitFor();
  await page.getByRole("link", { name: "All frames" }).click();
  await rows(page)
    .filter({ hasText: `zone ${zone.padStart(3, "0")}` })
    .first()
    .click();
  const inside = page.getByRole("group", { name: "Inside, range by range" });
  await inside
    .getByText(`${zone.padStart(3, "0")}`)
    .first()
    .waitFor();
  await page.getByText("What was answered").waitFor();
  await assertFits(page);
  await assertAccessible(page);
  await shot(page, "receiver-inside");
});
