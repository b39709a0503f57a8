// What this device keeps: jobs with their keys, their entries, and the outbox. IndexedDB, shared by all tabs.
import { type DBSchema, deleteDB, type IDBPDatabase, openDB } from "idb";
import type { ProblemJSON } from "../problem";
import type { Content, Entry, FindLine, Header, InboxRow } from "../types";
import { askToLast, inWords, noteKept, noticeLoss, room } from "./room.svelte";

/** A job as this device holds it. */
export interface KeptJob {
  job: string;
  name: string;
  practice: boolean;
  /** The job's data key, base64url; empty once erased. */
  key: string;
  /** The last header shown, so that help for real smoke is on the page before the engine is. */
  header?: Header;
  /** What a search over the jobs of this device goes by. */
  index?: FindLine[];
  /** Begun on this device; no server has it yet. */
  fresh?: boolean;
}

/** One sealed content that the server has not yet put in order, or whose entry has not come back yet. */
export interface OutboxItem {
  /** Order of writing, over all jobs. */
  n?: number;
  job: string;
  id: string;
  content: Content;
  /** waiting: to be sent; sent: the server has it, its entry is on the way; refused: a person must look. */
  state: "waiting" | "sent" | "refused";
  problem?: ProblemJSON;
}

/** A signal that nobody was told of, until a person says that they saw it. */
export interface KeptAlarm {
  id: string;
  row: InboxRow;
  seen?: string;
}

/** A photograph or file of a job, sealed. Kept until the server has it, and as long as there is room. */
export interface KeptBlob {
  /** SHA-256 of the sealed bytes. */
  address: string;
  job: string;
  sealed: Uint8Array<ArrayBuffer>;
  state: OutboxItem["state"];
  problem?: ProblemJSON;
}

interface Schema extends DBSchema {
  jobs: { key: string; value: KeptJob };
  entries: { key: [string, number]; value: Entry };
  outbox: { key: number; value: OutboxItem; indexes: { job: string; id: string } };
  alarms: { key: string; value: KeptAlarm };
  notes: { key: string; value: number };
  blobs: { key: string; value: KeptBlob; indexes: { state: string; job: string } };
}

let opened: Promise<IDBPDatabase<Schema>> | undefined;

function database(): Promise<IDBPDatabase<Schema>> {
  opened ??= openDB<Schema>("proofbell", 2, {
    upgrade(db, before) {
      if (before < 2) {
        const blobs = db.createObjectStore("blobs", { keyPath: "address" });
        blobs.createIndex("state", "state");
        blobs.createIndex("job", "job");
      }
      if (before >= 1) return;
      db.createObjectStore("jobs", { keyPath: "job" });
      db.createObjectStore("entries", { keyPath: ["job", "seq"] });
      const outbox = db.createObjectStore("outbox", { keyPath: "n", autoIncrement: true });
      outbox.createIndex("job", "job");
      outbox.createIndex("id", "id", { unique: true });
      db.createObjectStore("alarms", { keyPath: "id" });
      db.createObjectStore("notes");
    },
    // Another tab wants a newer version: let go, the next use opens again.
    blocking(_current, _blocked, event) {
      (event.target as IDBDatabase).close();
      opened = undefined;
    },
    terminated() {
      opened = undefined;
    },
  });
  return opened;
}

const range = (job: string, after = 0) => IDBKeyRange.bound([job, after], [job, Number.MAX_SAFE_INTEGER], true);

/** Writes one value. The request and its transaction fail together: both are waited for. */
const both = async (...work: (Promise<unknown> | undefined)[]): Promise<void> => {
  await Promise.all(work);
};

const kept = {
  async jobs(): Promise<KeptJob[]> {
    return (await database()).getAll("jobs");
  },
  async job(job: string): Promise<KeptJob | undefined> {
    return (await database()).get("jobs", job);
  },
  /** Keeps what is given and leaves the rest of the job's row as it is. */
  async keepJob(change: Partial<KeptJob> & { job: string }): Promise<void> {
    const tx = (await database()).transaction("jobs", "readwrite");
    const before = await tx.store.get(change.job);
    await both(
      tx.store.put({ ...(before ?? { job: change.job, name: "", practice: false, key: "" }), ...change }),
      tx.done,
    );
    if (!before) await note();
  },

  /** The job was erased: its key goes, and what stood in the clear beside the entries. */
  async forgetPersonal(job: string): Promise<void> {
    const tx = (await database()).transaction(["jobs", "blobs"], "readwrite");
    const row = await tx.objectStore("jobs").get(job);
    const blobs = await tx.objectStore("blobs").index("job").getAllKeys(job);
    const { header: _header, index: _index, ...rest } = row ?? { job, name: "", practice: false };
    await both(
      tx.objectStore("jobs").put({ ...rest, key: "" }),
      ...blobs.map((address) => tx.objectStore("blobs").delete(address)),
      tx.done,
    );
  },

  async entries(job: string, after = 0): Promise<Entry[]> {
    return (await database()).getAll("entries", range(job, after));
  },
  async lastEntry(job: string): Promise<Entry | undefined> {
    const cursor = await (await database()).transaction("entries").store.openCursor(range(job), "prev");
    return cursor?.value;
  },
  /** Adds entries and takes their contents out of the outbox, in one transaction: an act is always in one of the two. */
  async addEntries(entries: Entry[]): Promise<void> {
    const tx = (await database()).transaction(["entries", "outbox"], "readwrite");
    const byID = tx.objectStore("outbox").index("id");
    const work = async () => {
      for (const entry of entries) {
        await tx.objectStore("entries").put(entry);
        const item = await byID.getKey(entry.id);
        if (item !== undefined) await tx.objectStore("outbox").delete(item);
      }
    };
    await both(work(), tx.done);
    await note();
  },
  async dropEntries(job: string): Promise<void> {
    await (await database()).delete("entries", range(job));
  },

  async outbox(job: string): Promise<OutboxItem[]> {
    return (await database()).getAllFromIndex("outbox", "job", job);
  },
  async unsent(): Promise<OutboxItem[]> {
    return (await (await database()).getAll("outbox")).filter((item) => item.state === "waiting");
  },
  async put(item: OutboxItem): Promise<void> {
    // Strict: a tick that was shown as made must survive a dead battery.
    const tx = (await database()).transaction("outbox", "readwrite", { durability: "strict" });
    await both(tx.store.put(item), tx.done);
    room.full = false;
    askToLast();
    await note();
  },
  async drop(n: number): Promise<void> {
    await (await database()).delete("outbox", n);
    await note();
  },
  /** What the server answered for one content. An entry that came back before the answer has left nothing to mark. */
  async mark(n: number, state: OutboxItem["state"], problem?: ProblemJSON): Promise<void> {
    const tx = (await database()).transaction("outbox", "readwrite");
    const item = await tx.store.get(n);
    await both(item && tx.store.put(problem ? { ...item, state, problem } : { ...item, state }), tx.done);
    await note();
  },

  async blob(address: string): Promise<KeptBlob | undefined> {
    return (await database()).get("blobs", address);
  },
  async unsentBlobs(): Promise<KeptBlob[]> {
    return (await database()).getAllFromIndex("blobs", "state", "waiting");
  },
  async refusedBlobs(job: string): Promise<KeptBlob[]> {
    return (await (await database()).getAllFromIndex("blobs", "state", "refused")).filter((blob) => blob.job === job);
  },
  async countUnsentBlobs(): Promise<number> {
    return (await database()).countFromIndex("blobs", "state", "waiting");
  },
  /** Strict: the only copy of a photograph until the server has it. */
  async putBlob(blob: KeptBlob): Promise<void> {
    const tx = (await database()).transaction("blobs", "readwrite", { durability: "strict" });
    await both(tx.store.put(blob), tx.done);
    room.full = false;
    askToLast();
  },
  async markBlob(address: string, state: OutboxItem["state"], problem?: ProblemJSON): Promise<void> {
    const tx = (await database()).transaction("blobs", "readwrite");
    const blob = await tx.store.get(address);
    await both(blob && tx.store.put(problem ? { ...blob, state, problem } : { ...blob, state }), tx.done);
  },

  async alarms(): Promise<KeptAlarm[]> {
    return (await (await database()).getAll("alarms")).filter((alarm) => !alarm.seen);
  },
  async keepAlarm(row: InboxRow): Promise<void> {
    const tx = (await database()).transaction("alarms", "readwrite");
    const id = `${row.receiver}/${row.row}`;
    const known = await tx.store.get(id);
    await both(known ? undefined : tx.store.put({ id, row }), tx.done);
  },
  async seen(id: string, at: string): Promise<void> {
    const tx = (await database()).transaction("alarms", "readwrite");
    const alarm = await tx.store.get(id);
    await both(alarm && tx.store.put({ ...alarm, seen: at }), tx.done);
  },

  async note(name: string): Promise<number | undefined> {
    return (await database()).get("notes", name);
  },
  async keepNote(name: string, value: number): Promise<void> {
    await (await database()).put("notes", value, name);
  },
};

/** Notes how much there is to lose. What stands in the way of that stands in the way of nothing else. */
async function note(): Promise<void> {
  const db = await database();
  noteKept(await db.count("jobs"), (await kept.unsent()).length);
}

/** Takes everything off this device: jobs with their keys, acts, photographs, and the notes beside them. */
export async function forgetAll(): Promise<void> {
  (await database()).close();
  opened = undefined;
  await deleteDB("proofbell");
  for (const name of Object.keys(localStorage).filter((key) => key.startsWith("proofbell.")))
    localStorage.removeItem(name);
  noteKept(0, 0);
}

/** Looks whether what was kept here is still here. */
export async function lookForLoss(): Promise<void> {
  noticeLoss(await (await database()).count("jobs"));
}

/** What fails rejects with a Problem in words. */
function told<T extends Record<string, (...args: never[]) => Promise<unknown>>>(acts: T): T {
  const out = Object.entries(acts).map(([name, act]) => [
    name,
    async (...args: never[]) => {
      try {
        return await act(...args);
      } catch (reason) {
        throw inWords(reason);
      }
    },
  ]);
  return Object.fromEntries(out) as T;
}

export const store = told(kept);
export type Store = typeof store;
