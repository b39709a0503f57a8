// What this device keeps: jobs with their keys, their entries, and the outbox. IndexedDB, shared by all tabs.
import { type DBSchema, type IDBPDatabase, openDB } from "idb";
import type { ProblemJSON } from "../problem";
import type { Content, Entry, Header, InboxRow } from "../types";

/** A job as this device holds it. */
export interface KeptJob {
  job: string;
  name: string;
  practice: boolean;
  /** The job's data key, base64url; empty once erased. */
  key: string;
  /** The last header shown, so that help for real smoke is on the page before the engine is. */
  header?: Header;
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

export const store = {
  async jobs(): Promise<KeptJob[]> {
    return (await database()).getAll("jobs");
  },
  async job(job: string): Promise<KeptJob | undefined> {
    return (await database()).get("jobs", job);
  },
  /** Keeps what is given and leaves the rest of the job's row as it is. */
  async keepJob(change: Partial<KeptJob> & { job: string }): Promise<void> {
    const tx = (await database()).transaction("jobs", "readwrite");
    const before = (await tx.store.get(change.job)) ?? { job: change.job, name: "", practice: false, key: "" };
    await tx.store.put({ ...before, ...change });
    await tx.done;
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
    for (const entry of entries) {
      await tx.objectStore("entries").put(entry);
      const item = await byID.getKey(entry.id);
      if (item !== undefined) await tx.objectStore("outbox").delete(item);
    }
    await tx.done;
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
    await tx.store.put(item);
    await tx.done;
  },
  async drop(n: number): Promise<void> {
    await (await database()).delete("outbox", n);
  },
  /** What the server answered for one content. An entry that came back before the answer has left nothing to mark. */
  async mark(n: number, state: OutboxItem["state"], problem?: ProblemJSON): Promise<void> {
    const tx = (await database()).transaction("outbox", "readwrite");
    const item = await tx.store.get(n);
    if (item) await tx.store.put(problem ? { ...item, state, problem } : { ...item, state });
    await tx.done;
  },

  async blob(address: string): Promise<KeptBlob | undefined> {
    return (await database()).get("blobs", address);
  },
  async unsentBlobs(): Promise<KeptBlob[]> {
    return (await database()).getAllFromIndex("blobs", "state", "waiting");
  },
  /** Strict: the only copy of a photograph until the server has it. */
  async putBlob(blob: KeptBlob): Promise<void> {
    const tx = (await database()).transaction("blobs", "readwrite", { durability: "strict" });
    await tx.store.put(blob);
    await tx.done;
  },
  async markBlob(address: string, state: OutboxItem["state"], problem?: ProblemJSON): Promise<void> {
    const tx = (await database()).transaction("blobs", "readwrite");
    const blob = await tx.store.get(address);
    if (blob) await tx.store.put(problem ? { ...blob, state, problem } : { ...blob, state });
    await tx.done;
  },

  async alarms(): Promise<KeptAlarm[]> {
    return (await (await database()).getAll("alarms")).filter((alarm) => !alarm.seen);
  },
  async keepAlarm(row: InboxRow): Promise<void> {
    const tx = (await database()).transaction("alarms", "readwrite");
    const id = `${row.receiver}/${row.row}`;
    if (!(await tx.store.get(id))) await tx.store.put({ id, row });
    await tx.done;
  },
  async seen(id: string, at: string): Promise<void> {
    const tx = (await database()).transaction("alarms", "readwrite");
    const alarm = await tx.store.get(id);
    if (alarm) await tx.store.put({ ...alarm, seen: at });
    await tx.done;
  },

  async note(name: string): Promise<number | undefined> {
    return (await database()).get("notes", name);
  },
  async keepNote(name: string, value: number): Promise<void> {
    await (await database()).put("notes", value, name);
  },
};

export type Store = typeof store;
