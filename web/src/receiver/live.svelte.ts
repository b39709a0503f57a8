// The receiver as its page sees it: its state and the newest frames, pushed by the server. Shapes: docs/format/wire.md.
import { Problem } from "../problem";
import { ask } from "../sync/api";
import { language } from "../words/words.svelte";

export interface Tested {
  job: string;
  name: string;
  account: string;
  practice: boolean;
  answered: boolean;
  until?: string;
}

/** An account that has to be heard from. */
export interface Link {
  account: string;
  job: string;
  every: number;
  last?: string;
  due: string;
  lapsed: boolean;
}

/** What is stored and in no book yet. */
export interface Backlog {
  waiting: number;
  oldest?: string;
  age: number;
  away: boolean;
  silent: boolean;
}

export interface Peer {
  remote: string;
  since: string;
  last?: string;
  frames: number;
  faults: number;
}

export interface Receiver {
  listening: boolean;
  say: string;
  addresses: string[];
  here: boolean;
  tested: Tested[];
  links: Link[];
  backlog: Backlog;
  /** Receivers of other processes on the same store. */
  others: (Backlog & { receiver: string; name?: string })[];
  connections?: number;
  peers?: Peer[];
  counts?: Record<string, number | Record<string, number>>;
  limits?: { conns: number; perAddress: number; idle: number; inFrame: number; faults: number };
}

export interface FrameFault {
  cause: string;
  element?: string;
  offset: number;
  got?: string;
  want?: string;
  say: string;
}

export interface FrameRow {
  n: number;
  at: string;
  transport: string;
  remote: string;
  account?: string;
  id?: string;
  bytes: number;
  state: "answered" | "silent" | "refused" | "damaged" | "not-stored";
  events?: { qualifier: string; words: string; numberIs: string; address?: string; area?: number }[];
  fault?: FrameFault;
  silence?: "no-account" | "no-job" | "no-run" | "beside" | "not-on-test" | "spooled";
  near?: { account: string; swapped: boolean; job: string };
  job?: string;
}

export interface Range {
  from: number;
  to: number;
  element: string;
  bad?: boolean;
  text: { text?: string; byte?: string }[];
  hex: string;
  got?: string;
  want?: string;
  words?: string;
  number?: number;
  /** The mistake that makes such bytes, in the language that was asked for. */
  hint?: string;
  hidden?: boolean;
}

export interface Lesson extends FrameRow {
  ranges: Range[];
  inside?: Range[];
  reply?: Range[];
  replyLost?: boolean;
  right?: { mended: boolean; time?: string; ranges?: Range[] };
}

/** As many as the server holds. */
const most = 500;

export class Live {
  state = $state.raw<Receiver>();
  frames = $state.raw<FrameRow[]>([]);
  /** Frames that went by in a flood and are not listed. */
  missed = $state(0);
  /** Whether the stream stands. */
  on = $state(false);
  problem = $state.raw<Problem>();
  /** While held, what arrives waits behind the list. */
  held = $state(false);
  waiting = $state.raw<FrameRow[]>([]);
  #stream: EventSource | undefined;
  #again: ReturnType<typeof setTimeout> | undefined;

  /** Follows the receiver until the function that it returns is called. */
  follow(): () => void {
    this.#listen();
    return () => {
      clearTimeout(this.#again);
      this.#stream?.close();
    };
  }

  hold(on: boolean): void {
    this.held = on;
    if (on) return;
    this.frames = [...this.waiting, ...this.frames].slice(0, most);
    this.waiting = [];
  }

  #listen(): void {
    const newest = (this.waiting[0] ?? this.frames[0])?.n ?? 0;
    const stream = new EventSource(`/api/receiver/events?after=${newest}&lang=${language()}`);
    this.#stream = stream;
    stream.onopen = () => {
      this.on = true;
      this.problem = undefined;
    };
    stream.onerror = () => {
      stream.close();
      this.on = false;
      this.#again = setTimeout(() => this.#listen(), 2000);
      // Why: a stream does not tell.
      ask<Receiver>("GET", "/api/receiver").catch((reason) => {
        this.problem = Problem.of(reason);
      });
    };
    const hear = <T>(name: string, take: (data: T) => void) =>
      stream.addEventListener(name, (event) => take(JSON.parse((event as MessageEvent<string>).data) as T));
    hear<Receiver>("state", (state) => {
      this.state = state;
    });
    hear<{ frames: FrameRow[]; missed: number }>("frames", ({ frames, missed }) => {
      this.missed += missed;
      if (this.held) this.waiting = [...frames, ...this.waiting].slice(0, most);
      else this.frames = [...frames, ...this.frames].slice(0, most);
    });
  }
}

/** One frame, explained in the language of this device. Rejects with Problem. */
export const lesson = (n: number | string): Promise<Lesson> => ask<Lesson>("GET", `/api/receiver/frames/${n}`);
