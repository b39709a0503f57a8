import { describe, expect, it } from "vitest";
import { Problem } from "../problem";
import { type Post, pause, type Result, sendAll, waitAgain } from "./send";
import type { KeptBlob, OutboxItem } from "./store";

const item = (n: number, job = "a"): OutboxItem => ({
  n,
  job,
  id: `id-${n}`,
  content: { fmt: 1, job, id: `id-${n}`, at: "", by: "", kind: "tick", base: 0, body: {} },
  state: "waiting",
});

/** A world of this size: an outbox in memory and a server that `answer` plays. */
function world(
  items: OutboxItem[],
  answer: (ids: string[], job: string) => Result[],
  blobs: KeptBlob[] = [],
  put: (address: string) => void = () => undefined,
) {
  const requests: string[][] = [];
  const post: Post = {
    unsent: async () => items.filter((i) => i.state === "waiting"),
    mark: async (n, state, problem) => {
      const found = items.find((i) => i.n === n);
      if (found) Object.assign(found, { state, problem });
    },
    unsentBlobs: async () => blobs.filter((b) => b.state === "waiting"),
    markBlob: async (address, state, problem) => {
      const found = blobs.find((b) => b.address === address);
      if (found) Object.assign(found, { state, problem });
    },
    putBlob: async (blob) => {
      requests.push([blob.address]);
      put(blob.address);
    },
    post: async (job, contents) => {
      const ids = contents.map((c) => c.id);
      requests.push(ids);
      return answer(ids, job);
    },
  };
  return { post, requests };
}

const good = (ids: string[]): Result[] => ids.map((id, i) => ({ id, seq: i + 1, hash: "" }));

describe("sendAll", () => {
  it("sends a photograph before the entry that names it, and lays aside one that is refused for good", async () => {
    const blob = (address: string): KeptBlob => ({ address, job: "a", sealed: new Uint8Array(), state: "waiting" });
    const [items, blobs] = [[item(1)], [blob("p1"), blob("p2"), blob("p3")]];
    const { post, requests } = world(items, good, blobs, (address) => {
      if (address === "p2") throw new Problem("bad-request", "holds more than the picture");
      if (address === "p3") throw new Problem("storage-full", "no room");
    });
    await expect(sendAll(post)).rejects.toMatchObject({ code: "storage-full" });
    expect(requests).toEqual([["p1"], ["p2"], ["p3"], ["id-1"]]);
    expect(blobs.map((b) => b.state)).toEqual(["sent", "refused", "waiting"]);
  });
  it("sends in the order of writing and marks what the server has", async () => {
    const items = [item(1), item(2), item(3, "b")];
    const { post, requests } = world(items, good);
    expect(await sendAll(post)).toEqual(new Set(["a", "b"]));
    expect(requests).toEqual([["id-1", "id-2"], ["id-3"]]);
    expect(items.map((i) => i.state)).toEqual(["sent", "sent", "sent"]);
    await sendAll(post);
    expect(requests).toHaveLength(2);
  });

  it("keeps everything when the server is away, and stops knocking", async () => {
    const items = [item(1), item(2, "b")];
    const { post, requests } = world(items, () => {
      throw new Problem("unreachable", "away");
    });
    await expect(sendAll(post)).rejects.toMatchObject({ code: "unreachable" });
    expect(requests).toHaveLength(1);
    expect(items.every((i) => i.state === "waiting")).toBe(true);
  });

  it("sends singly after a refused request, so that one bad content holds up no other", async () => {
    const items = [item(1), item(2), item(3)];
    const { post } = world(items, (ids) => {
      if (ids.includes("id-2")) throw new Problem("bad-request", "not canonical");
      return good(ids);
    });
    await sendAll(post);
    expect(items.map((i) => i.state)).toEqual(["sent", "refused", "sent"]);
    expect(items[1]?.problem?.say).toBe("not canonical");
  });

  it("refuses for good what the server refuses for good, and tries the rest again", async () => {
    const items = [item(1), item(2)];
    const { post } = world(items, () => [
      { id: "id-1", problem: { code: "conflict", say: "another content has this id" } },
      { id: "id-2", problem: { code: "storage-full", say: "the disk is full" } },
    ]);
    await expect(sendAll(post)).rejects.toMatchObject({ code: "storage-full" });
    expect(items.map((i) => i.state)).toEqual(["refused", "waiting"]);
  });

  it("sends what was refused once more when a person says so, in the order of writing, photographs first", async () => {
    const blob: KeptBlob = { address: "p1", job: "a", sealed: new Uint8Array(), state: "waiting" };
    const items = [item(1), item(2), item(3)];
    let mended = false;
    const refuse = (ids: string[]): Result[] =>
      ids.map((id) => ({ id, problem: { code: "not-allowed", say: "the lead does" } }));
    const { post, requests } = world(
      items,
      (ids) => (mended ? good(ids) : refuse(ids)),
      [blob],
      () => {
        if (!mended) throw new Problem("not-allowed", "the lead does");
      },
    );
    await sendAll(post);
    expect([blob, ...items].map((i) => i.state)).toEqual(["refused", "refused", "refused", "refused"]);
    mended = true;
    items.push(item(4));
    requests.length = 0;
    await waitAgain(
      post,
      items.filter((i) => i.state === "refused"),
      [blob],
    );
    expect([blob, ...items].map((i) => i.state)).toEqual(["waiting", "waiting", "waiting", "waiting", "waiting"]);
    await sendAll(post);
    expect(requests).toEqual([["p1"], ["id-1", "id-2", "id-3", "id-4"]]);
    expect([blob, ...items].map((i) => i.state)).toEqual(["sent", "sent", "sent", "sent", "sent"]);
  });

  it("goes on with other jobs when one can not be sent now", async () => {
    const items = [item(1), item(2, "b")];
    const { post } = world(items, (ids, job) => {
      if (job === "a") throw new Problem("busy", "later");
      return good(ids);
    });
    await expect(sendAll(post)).rejects.toMatchObject({ code: "busy" });
    expect(items.map((i) => i.state)).toEqual(["waiting", "sent"]);
  });

  it("leaves unmarked what the server did not answer", async () => {
    const items = [item(1), item(2)];
    const { post } = world(items, (ids) => good(ids.slice(0, 1)));
    await sendAll(post);
    expect(items.map((i) => i.state)).toEqual(["sent", "waiting"]);
  });
});

it("waits longer each time, up to half a minute", () => {
  expect([1, 2, 3, 4, 5, 6, 7, 20].map(pause)).toEqual([1000, 2000, 4000, 8000, 16000, 30000, 30000, 30000]);
});
