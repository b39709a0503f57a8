// One open job: its book on this device, the engine's view of it, its outbox and its event stream.
import { getContext, setContext, untrack } from "svelte";
import { call, warm } from "./engine";
import { me } from "./me.svelte";
import { forgetTyped } from "./place.svelte";
import { Problem } from "./problem";
import { random } from "./random";
import type { FrameRow } from "./receiver/live.svelte";
import { counted } from "./sync/acts";
import { ask, away } from "./sync/api";
import { alone, onOutbox, outboxChanged, sendSoon } from "./sync/outbox";
import { editPatch } from "./sync/patch";
import { waitAgain } from "./sync/send";
import { type KeptAlarm, type KeptBlob, type OutboxItem, store } from "./sync/store";
import { stamp } from "./time";
import type { Content, Entry, FindLine, Header, InboxRow, Patch } from "./types";
import { AtWork, device } from "./who.svelte";
import { language, t } from "./words/words.svelte";

/** Whether the event stream stands. away: what is shown is what this device holds. */
export type Link = "connecting" | "live" | "away";

interface Receiver {
  listening: boolean;
  stored: number;
  say: string;
}

type News =
  | { about: "entries" }
  | { about: "alarm" }
  | { about: "link"; link: Link }
  | { about: "receiver"; receiver: Receiver };

/** What undo needs to know of an edit. */
interface Edit {
  id: string;
  by: string;
  undo: string;
}

/** How long before this device first looked into the inbox a signal may have come and still be shown. */
const recent = 3_600_000;
const page = 2000;

/** For what the server has as well: a full device shows it without keeping it, and says that it is full. */
const roomy = (work: Promise<void>) =>
  work.catch((reason) => {
    if (Problem.of(reason).code !== "device-full") throw reason;
  });

export class OpenJob {
  /** Counts up with every change of the book or the outbox: what depends on it asks the engine anew. */
  revision = $state(0);
  header = $state.raw<Header>();
  ready = $state(false);
  /** Why nothing can be shown. */
  problem = $state.raw<Problem>();
  link = $state<Link>("connecting");
  outbox = $state.raw<OutboxItem[]>([]);
  /** Photographs on this device that the server does not have yet, of whatever job. */
  photos = $state(0);
  /** Photographs of this job that the server refused. */
  refusedPhotos = $state.raw<KeptBlob[]>([]);
  /** Signals that were stored and that nobody was told of, not yet seen by a person. */
  alarms = $state.raw<KeptAlarm[]>([]);
  receiver = $state.raw<Receiver>();
  /** The newest frame that could not be taken and may be of this job. */
  fault = $state.raw<FrameRow>();
  readonly who: AtWork;
  /** The last answers of the engine by method, so that going back to a stage shows it at once. */
  readonly answers = new Map<string, unknown>();

  #seq = 0;
  #edits: Edit[] = [];
  /** How many edits the kept index knows. */
  #indexed = -1;
  #line: Promise<unknown> = Promise.resolve();
  #closing = new AbortController();
  #stream: EventSource | undefined;
  #news: BroadcastChannel;
  #closed: (() => void)[] = [];
  #headerAgain = false;
  #headerBusy = false;
  /** Ends the pause before the next try to reach the server. */
  #wake: (() => void) | undefined;
  /** Begun on this device, and no server has taken it over yet. */
  #fresh = false;

  constructor(readonly id: string) {
    this.who = new AtWork(id);
    this.#news = new BroadcastChannel(`proofbell-job-${id}`);
    this.#news.onmessage = ({ data }: MessageEvent<News>) => this.#hear(data);
    this.#closed.push(
      onOutbox((job) => {
        if (job !== id) return;
        void this.#then(() => this.#layOutbox());
        if (this.#fresh) this.#wake?.();
      }),
    );
    const beat = setInterval(() => document.hidden || void this.#lookUp(), 20_000);
    this.#closed.push(() => clearInterval(beat));
  }

  /** Acts on their way that no server has put in order yet. */
  get waiting(): number {
    return this.outbox.filter((item) => item.state === "waiting").length;
  }

  get refused(): OutboxItem[] {
    return this.outbox.filter((item) => item.state === "refused");
  }

  /** The newest edit of the person at work that is not yet undone. */
  get lastEdit(): string {
    void this.revision;
    const undone = new Set(this.#edits.map((edit) => edit.undo));
    return this.#edits.findLast((edit) => edit.by === this.who.by && !edit.undo && !undone.has(edit.id))?.id ?? "";
  }

  /** Shows what this device holds, then goes on with the server. */
  async open(): Promise<void> {
    warm();
    try {
      const kept = await store.job(this.id);
      if (kept?.header) this.header = kept.header;
      void this.#readAlarms();
      this.#fresh = kept?.fresh ?? false;
      if (kept?.key !== undefined && (this.#fresh || (await store.lastEntry(this.id))))
        await this.#then(() => this.#load());
    } catch (reason) {
      this.problem = Problem.of(reason);
    }
    // The tab that holds the lock keeps the stream for all tabs of this job; the next one takes over when it closes.
    void alone(`proofbell-stream-${this.id}`, () => this.#follow(), this.#closing.signal).catch((reason) => {
      if (!this.#closing.signal.aborted) console.error(reason);
    });
    if (!this.ready) void this.#begin();
  }

  close(): void {
    this.#closing.abort();
    this.#stream?.close();
    this.#news.close();
    for (const end of this.#closed) end();
  }

  /**
   * One act, one entry: sealed by the engine, kept on this device, shown at once, sent when it can be.
   * Asks who is at work when nobody was chosen. Undefined when that question was put aside. Rejects with Problem.
   */
  async act(kind: string, body: Record<string, unknown>, personal?: unknown): Promise<Content | undefined> {
    if (this.header?.erased)
      throw new Problem(
        "erased",
        t("What was personal in this job was erased for good: it can be read, not carried on."),
        t("Begin a new job."),
      );
    if (!this.who.person && !(await this.who.ask())) return undefined;
    return counted(
      this.#then(async () => {
        const content = await call<Content>("job.seal", {
          job: this.id,
          kind,
          body,
          ...(personal === undefined ? {} : { private: personal }),
          at: stamp(),
          by: this.who.by,
          random: random(48),
          role: me.role,
          lang: language(),
        });
        await store.put({ job: this.id, id: content.id, content, state: "waiting" });
        await this.#layOutbox();
        outboxChanged(this.id);
        sendSoon();
        return content;
      }),
    );
  }

  /** An edit of the site by a merge patch. Personal parts are split off and sealed. */
  async edit(patch: Patch, why = ""): Promise<Content | undefined> {
    const split = editPatch(patch);
    const body = { patch: split.patch, from: device(), ...(why && { why }) };
    return this.act("edit", body, split.private && { patch: split.private });
  }

  /** Takes back one edit: what still holds its value goes back to what it was. */
  async undo(entry: string): Promise<Content | undefined> {
    return this.act("edit", { undo: entry, from: device() });
  }

  /** A person saw a signal that nobody was told of. */
  async seen(alarm: KeptAlarm): Promise<void> {
    await store.seen(alarm.id, stamp());
    await this.#readAlarms();
    this.#tell({ about: "alarm" });
  }

  /** Sends what the server refused once more, in the old order: the lead may have mended what stood in the way. */
  async sendAgain(): Promise<void> {
    await waitAgain(store, this.refused, this.refusedPhotos);
    outboxChanged(this.id);
    sendSoon();
  }

  /** A content that the server refused for good is laid aside by a person. */
  async layAside(item: OutboxItem): Promise<void> {
    if (item.n !== undefined) await store.drop(item.n);
    outboxChanged(this.id);
  }

  /** One thing after the other: the book grows in order. */
  #then<T>(work: () => Promise<T>): Promise<T> {
    const next = this.#line.then(work);
    this.#line = next.catch(() => undefined);
    return next;
  }

  async #load(): Promise<void> {
    const [kept, entries] = await Promise.all([store.job(this.id), store.entries(this.id)]);
    await call("job.load", { job: this.id, key: kept?.key ?? "", entries });
    this.#seq = entries.at(-1)?.seq ?? 0;
    this.#edits = [];
    this.#remember(entries);
    await this.#layOutbox();
    this.ready = true;
    this.problem = undefined;
  }

  /** A job that is not on this device yet. Tries until the server answers. */
  async #begin(): Promise<void> {
    for (let n = 1; !this.ready && !this.#closing.signal.aborted; n++) {
      try {
        await this.#pull();
        return;
      } catch (reason) {
        const problem = Problem.of(reason);
        this.problem =
          problem.code === "unreachable"
            ? new Problem(
                "unreachable",
                t("This job is not on this device yet, and the server can not be reached."),
                t("Open it once where there is a signal; from then on it is here."),
              )
            : problem;
        if (problem.code === "not-found") return;
        await new Promise((resolve) => setTimeout(resolve, Math.min(1000 * n, 10_000)));
      }
    }
  }

  /** Fetches what the server has and this device has not. */
  async #pull(): Promise<void> {
    await this.#then(async () => {
      if (this.#fresh) {
        this.#fresh = (await store.job(this.id))?.fresh ?? false;
        if (this.#fresh) throw away();
      }
      const base = `/api/jobs/${this.id}`;
      const meta = await ask<{ seq: number; key: string }>("GET", base);
      await roomy(store.keepJob({ job: this.id, key: meta.key }));
      const last = await store.lastEntry(this.id);
      if (last) {
        // Another history under the same id: this device's copy is of no use. The outbox stays.
        const { entries } = await ask<{ entries: Entry[] }>("GET", `${base}/entries?after=${last.seq - 1}&limit=1`);
        if (entries[0]?.hash !== last.hash) {
          await store.dropEntries(this.id);
          this.ready = false;
          this.#seq = 0;
        }
      }
      const fresh: Entry[] = [];
      for (let after = (await store.lastEntry(this.id))?.seq ?? 0; after < meta.seq; ) {
        const { entries } = await ask<{ entries: Entry[] }>("GET", `${base}/entries?after=${after}&limit=${page}`);
        if (entries.length === 0) break;
        await roomy(store.addEntries(entries));
        fresh.push(...entries);
        after = entries.at(-1)?.seq ?? after;
      }
      if (!this.ready) await this.#load();
      // Another tab may have kept some; what did not fit on this device is shown all the same.
      await this.#append(await store.entries(this.id, this.#seq));
      await this.#append(fresh);
    });
    this.#tell({ about: "entries" });
  }

  /** Holds the event stream until the job is closed. */
  async #follow(): Promise<void> {
    for (let n = 1; !this.#closing.signal.aborted; n++) {
      try {
        await this.#pull();
        await this.#catchUp();
        n = 0;
        await this.#listen();
      } catch (reason) {
        const problem = Problem.of(reason);
        if (problem.code !== "unreachable") console.warn("following the job:", problem.message);
        if (problem.code === "not-found" && this.ready) this.problem = undefined;
      }
      this.#setLink("away");
      await new Promise<void>((resolve) => {
        const timer = setTimeout(resolve, Math.min(500 * 2 ** n, 10_000));
        const now = () => {
          clearTimeout(timer);
          resolve();
        };
        this.#wake = now;
        addEventListener("online", now, { once: true });
        this.#closing.signal.addEventListener("abort", now, { once: true });
      });
    }
  }

  /** One connection. Ends when it breaks; the caller starts the next with a pull, so that nothing is missed. */
  #listen(): Promise<void> {
    return new Promise((resolve) => {
      const stream = new EventSource(`/api/jobs/${this.id}/events?after=${this.#seq}&lang=${language()}`);
      this.#stream = stream;
      const on = <T>(name: string, hear: (data: T) => void) =>
        stream.addEventListener(name, (event) => hear(JSON.parse((event as MessageEvent<string>).data) as T));
      stream.onopen = () => {
        this.#setLink("live");
        sendSoon();
      };
      stream.onerror = () => {
        stream.close();
        resolve();
      };
      this.#closing.signal.addEventListener("abort", () => resolve(), { once: true });
      on<{ entries: Entry[] }>("entries", ({ entries }) => {
        void this.#then(async () => {
          await roomy(store.addEntries(entries));
          await this.#append(entries);
          this.#tell({ about: "entries" });
        }).catch((reason) => {
          // A gap or a book that does not fit: begin again with a pull.
          console.warn("taking in entries:", reason);
          stream.close();
          resolve();
        });
      });
      on<InboxRow>("alarm", (row) => void this.#takeAlarm(row));
      on<Receiver>("receiver", (receiver) => {
        this.receiver = receiver;
        this.#tell({ about: "receiver", receiver });
      });
      on<FrameRow>("fault", (fault) => {
        this.fault = fault;
      });
    });
  }

  /** Signals that came while no page listened. */
  async #catchUp(): Promise<void> {
    const cursor = await store.note("inbox");
    let after = cursor ?? 0;
    const since = Date.now() - recent;
    for (;;) {
      const { rows, row } = await ask<{ rows: InboxRow[] | null; row: number }>("GET", `/api/inbox?after=${after}`);
      for (const found of rows ?? []) {
        if (!found.answered && (cursor !== undefined || Date.parse(found.at) > since)) await store.keepAlarm(found);
      }
      const next = Math.max(rows?.at(-1)?.row ?? row ?? after, after);
      if (!rows?.length || next === after) break;
      after = next;
    }
    await store.keepNote("inbox", after);
    await this.#readAlarms();
  }

  async #takeAlarm(row: InboxRow): Promise<void> {
    await store.keepAlarm(row);
    await store.keepNote("inbox", Math.max(row.row, (await store.note("inbox")) ?? 0));
    await this.#readAlarms();
    this.#tell({ about: "alarm" });
  }

  async #readAlarms(): Promise<void> {
    this.alarms = await store.alarms();
  }

  async #append(entries: Entry[]): Promise<void> {
    const news = entries.filter((entry) => entry.seq > this.#seq);
    if (news.length === 0) return;
    await call("job.append", { job: this.id, entries: news });
    this.#seq = news.at(-1)?.seq ?? this.#seq;
    this.#remember(news);
    if (news.some((entry) => entry.kind === "key" && (entry.body as { act?: string }).act === "erased")) {
      this.answers.clear();
      this.#indexed = -1;
      await store.forgetPersonal(this.id);
      forgetTyped(this.id);
      await this.#load();
      return;
    }
    await this.#layOutbox();
  }

  async #layOutbox(): Promise<void> {
    const items = await store.outbox(this.id);
    await call("job.outbox", {
      job: this.id,
      contents: items.filter((item) => item.state !== "refused").map((item) => item.content),
    });
    this.outbox = items;
    this.photos = await store.countUnsentBlobs();
    this.refusedPhotos = await store.refusedBlobs(this.id);
    this.#remember(items.map((item) => item.content));
    this.revision += 1;
    void this.#lookUp();
  }

  #remember(contents: Content[]): void {
    const known = new Set(this.#edits.map((edit) => edit.id));
    for (const { id, by, kind, body } of contents) {
      if (kind === "edit" && !known.has(id)) this.#edits.push({ id, by, undo: (body as { undo?: string }).undo ?? "" });
    }
  }

  /** Asks for the header anew: its words follow the language of this device. */
  look(): void {
    if (this.ready) void this.#lookUp();
  }

  /** The header is on every stage, so the job itself keeps it fresh. */
  async #lookUp(): Promise<void> {
    if (!this.ready && this.revision === 0) return;
    this.#headerAgain = true;
    if (this.#headerBusy) return;
    this.#headerBusy = true;
    try {
      while (this.#headerAgain) {
        this.#headerAgain = false;
        const header = await call<Header>("job.header", { job: this.id, now: stamp(), lang: language() });
        this.header = header;
        await roomy(store.keepJob({ job: this.id, name: header.name, practice: header.practice, header }));
        if (this.#indexed !== this.#edits.length) {
          const edits = this.#edits.length;
          const index = await call<FindLine[]>("job.index", { job: this.id, now: stamp(), lang: language() });
          await roomy(store.keepJob({ job: this.id, index }));
          this.#indexed = edits;
        }
      }
    } catch (reason) {
      this.problem = Problem.of(reason);
    } finally {
      this.#headerBusy = false;
    }
  }

  #setLink(link: Link): void {
    this.link = link;
    this.#tell({ about: "link", link });
  }

  #tell(news: News): void {
    if (!this.#closing.signal.aborted) this.#news.postMessage(news);
  }

  #hear(news: News): void {
    if (news.about === "entries") {
      void this.#then(async () => {
        if (this.ready) await this.#append(await store.entries(this.id, this.#seq));
        else await this.#load();
      });
    } else if (news.about === "alarm") void this.#readAlarms();
    else if (news.about === "link") this.link = news.link;
    else this.receiver = news.receiver;
  }
}

const here = Symbol("job");

export function setJob(job: OpenJob): OpenJob {
  return setContext(here, job);
}

/** The job that is open around this component. */
export function theJob(): OpenJob {
  return getContext<OpenJob>(here);
}

export interface View<T> {
  /** The newest answer; undefined until the first. */
  readonly value: T | undefined;
  readonly problem: Problem | undefined;
}

/**
 * An answer of the engine that is kept fresh while the component is on the page: asked anew after every change of the
 * book, when `more` gives other arguments, and every `every` seconds where time itself changes the answer.
 */
export function view<T>(
  method: string,
  options: { more?: () => Record<string, unknown>; every?: number } = {},
): View<T> {
  const job = theJob();
  let value = $state.raw<T | undefined>(options.more ? undefined : (job.answers.get(method) as T | undefined));
  let problem = $state.raw<Problem>();
  let busy = false;
  let again = false;
  let gone = false;

  async function refresh(more: Record<string, unknown>): Promise<void> {
    if (busy) {
      again = true;
      return;
    }
    busy = true;
    try {
      const answer = await call<T>(method, { job: job.id, now: stamp(), lang: language(), ...more });
      if (gone) return;
      value = answer;
      problem = undefined;
      if (!options.more) job.answers.set(method, answer);
    } catch (reason) {
      problem = Problem.of(reason);
    } finally {
      busy = false;
    }
    if (again && !gone) {
      again = false;
      await refresh(options.more?.() ?? {});
    }
  }

  $effect(() => {
    void job.revision;
    void language();
    const more = options.more?.() ?? {};
    if (!job.ready) return;
    untrack(() => void refresh(more));
    if (!options.every) return;
    const timer = setInterval(() => document.hidden || void refresh(options.more?.() ?? {}), options.every * 1000);
    return () => clearInterval(timer);
  });
  $effect(() => () => {
    gone = true;
  });

  return {
    get value() {
      return value;
    },
    get problem() {
      return problem;
    },
  };
}
