// What a finger, a mouse or the pen of the keyboard does with the tool in hand. Nothing is computed here but where was meant.
import type { Operation as Act, Plan, Point } from "../../types";
import { type Handle, type Held, handleAt, hit, markAt, same, type WallLine } from "./hit";
import { type Catches, type Caught, caught, type Line, onLine, plain } from "./snap";
import type { Work } from "./work.svelte";

export type Tool =
  | "hold"
  | "room"
  | "corners"
  | "wall"
  | "divide"
  | "opening"
  | "place"
  | "measure"
  | "elsewhere"
  | "scale";

/** What hangs from the finger with the tool "place". */
export type Hung =
  | { what: "device" | "head"; id: string }
  | { what: "device"; model: string }
  | { what: "head"; kind: string };

/** What the tools need to know of the drawing. */
export interface Sheet {
  plan: Plan;
  storey: string;
  walls: readonly WallLine[];
  /** What places are drawn to: corners and lines of this storey and of the one below. */
  corners: readonly Point[];
  lines: readonly Line[];
  /** Width of a square, metres. */
  step: number;
}

/** What is being moved, and from where. */
type Grip = { held: Held; handle?: Handle; from: Point };

const far = (a: Point, b: Point) => Math.hypot(a.X - b.X, a.Y - b.Y);

export class Tools {
  tool = $state<Tool>("hold");
  /** Places given so far. */
  points = $state.raw<Point[]>([]);
  /** Where the finger or the pen is, and what it was drawn to. */
  here = $state.raw<Caught>();
  held = $state.raw<Held>();
  grip = $state.raw<Grip>();
  /** Corner or side of the room in hand that was tapped. */
  part = $state.raw<Handle>();
  opening = $state({ kind: "door", width: "" });
  hung = $state.raw<Hung>();
  /** A room that has its name and gets its outline by what is drawn next; empty: a new one. */
  room = $state("");
  /** Lengths that were typed for the rectangle being drawn. */
  width = $state("");
  depth = $state("");
  /** What was put down and is not in the book yet: it must not jump back for a moment. */
  rest = $state.raw<{ key: string; at: Point }>();
  /** Said when a tap meant nothing. */
  hint = $state<"" | "no-wall" | "nothing">("");

  #from: Point | undefined;
  #reach = 0.3;

  #line: Promise<unknown> = Promise.resolve();
  #settled: (() => void) | undefined;

  constructor(
    readonly sheet: () => Sheet,
    readonly work: Work,
    /** Completes an act just before it is done: a first storey, the model of a first device, the name of an alarm. */
    readonly complete: (act: Act) => Promise<Act | undefined>,
    /** Called with what was made or moved. */
    readonly done: (made: string[], act: Act) => void,
  ) {}

  choose(tool: Tool): void {
    this.tool = tool;
    this.let();
    this.points = [];
    this.here = undefined;
    this.hint = "";
    this.part = undefined;
    this.work.calm();
    if (tool !== "hold" && tool !== "elsewhere" && tool !== "divide") this.held = undefined;
  }

  take(held: Held | undefined): void {
    if (same(held, this.held)) return;
    this.let();
    this.part = undefined;
    this.work.calm();
    this.held = held;
  }

  /** Puts aside what was begun: the newest corner first, then all, then the tool. True when there was something. */
  back(): boolean {
    const had = this.points.length > 0 || this.grip !== undefined || this.held !== undefined || this.tool !== "hold";
    if (this.grip) this.let();
    else if (this.points.length > 0) this.points = this.points.slice(0, -1);
    else if (this.tool !== "hold") this.choose("hold");
    else if (this.part) this.part = undefined;
    else this.held = undefined;
    return had;
  }

  outline(room: string): Point[] {
    return this.sheet().plan.rooms?.find((one) => one.id === room)?.outline ?? [];
  }

  #catches(reach: number): Catches {
    const { corners, lines, step } = this.sheet();
    return { corners, lines, step, reach };
  }

  /** Where a place is meant to be with the tool in hand. */
  mean(at: Point, reach: number): Caught {
    const catches = this.#catches(reach * 0.8);
    const bare = (point: Point): Caught => ({ at: { X: plain(point.X), Y: plain(point.Y) }, to: "square", inLine: [] });
    switch (this.tool) {
      case "scale":
        return bare(at);
      case "opening": {
        const wall = onLine(at, { ...catches, reach: reach * 1.5 });
        return wall ? { at: wall, to: "line", inLine: [] } : bare(at);
      }
      case "place":
      case "elsewhere":
        return caught(at, { ...catches, corners: this.#middles(), reach: reach * 0.5 });
      case "hold":
        if (this.grip?.held.what === "opening")
          return { at: onLine(at, { ...catches, reach: 5 }) ?? at, to: "line", inLine: [] };
        if (!this.grip?.handle) return caught(at, { ...catches, corners: this.#middles(), reach: reach * 0.5 });
        return caught(at, { ...catches, corners: this.#others() });
      default:
        return caught(at, { ...catches, corners: [...catches.corners, ...this.points] });
    }
  }

  /** Middles of rooms: where a ceiling device mostly goes. */
  #middles(): Point[] {
    return (this.sheet().plan.rooms ?? []).map(({ outline }) => {
      const xs = (outline ?? []).map((point) => point.X);
      const ys = (outline ?? []).map((point) => point.Y);
      return { X: plain((Math.min(...xs) + Math.max(...xs)) / 2), Y: plain((Math.min(...ys) + Math.max(...ys)) / 2) };
    });
  }

  /** Corners but for the one that is being moved: it would be drawn to itself. */
  #others(): Point[] {
    const from = this.grip?.from;
    return this.sheet().corners.filter((corner) => !from || far(corner, from) > 1e-6);
  }

  /** Whether the tool is drawn from one place to another. */
  #lined(): boolean {
    return this.tool === "room" || this.tool === "measure" || this.tool === "wall" || this.tool === "divide";
  }

  // ---- what the sheet calls ----

  press = (at: Point, reach: number): boolean => {
    this.#reach = reach;
    this.hint = "";
    if (
      this.tool === "room" ||
      this.tool === "measure" ||
      this.tool === "place" ||
      this.tool === "opening" ||
      this.tool === "elsewhere"
    ) {
      this.#from = this.mean(at, reach).at;
      return true;
    }
    if (this.tool !== "hold" || !this.held) return false;
    const { held } = this;
    if (held.what === "room") {
      const handle = handleAt(this.outline(held.id), at, reach);
      if (handle) this.grip = { held, handle, from: handle.at };
    } else if (held.what === "opening") {
      if (same(hit(this.sheet().plan, [], at, reach), held)) this.grip = { held, from: at };
    } else if (same(markAt(this.sheet().plan, at, reach), held)) this.grip = { held, from: at };
    return this.grip !== undefined;
  };

  drag = (at: Point): void => {
    if (this.#from && this.points.length === 0 && this.#lined()) this.points = [this.#from];
    this.here = this.mean(at, this.#reach);
    const act = this.#moved();
    if (act) this.work.attempt(act, this.sheet().storey);
  };

  drop = (at: Point): void => {
    this.drag(at);
    if (this.tool === "hold") void this.#release();
    else this.tap(at, this.#reach);
  };

  /** What was begun with a press is put aside. */
  let = (): void => {
    if (this.#from && this.points.length === 1) this.points = [];
    this.#from = undefined;
    this.grip = undefined;
    this.work.drop();
  };

  hover = (at: Point, reach = this.#reach): void => {
    if (this.tool === "hold") return;
    this.here = this.mean(at, reach);
    // A device is weighed before it is put down; that needs a finger which can hover, or the pen.
    const act = this.tool === "place" || this.tool === "elsewhere" ? this.#put(this.here.at) : undefined;
    if (act) this.work.attempt(act, this.sheet().storey);
  };

  tap = (at: Point, reach: number): void => {
    this.#from = undefined;
    this.grip = undefined;
    this.hint = "";
    const meant = this.mean(at, reach);
    this.here = meant;
    switch (this.tool) {
      case "hold":
        this.here = undefined;
        if (this.held?.what === "room") {
          const handle = handleAt(this.outline(this.held.id), at, reach);
          if (handle) {
            this.part = handle;
            return;
          }
        }
        this.part = undefined;
        this.take(hit(this.sheet().plan, this.sheet().walls, at, reach));
        return;
      case "room":
        if (this.points.length === 0) this.points = [meant.at];
        else void this.rectangle(meant.at);
        return;
      case "wall":
      case "divide": {
        const [first] = this.points;
        if (!first) this.points = [meant.at];
        else if (this.tool === "wall") void this.act({ op: "wall", points: [first, meant.at] });
        else if (this.held) void this.act({ op: "divide", id: this.held.id, points: [first, meant.at] });
        return;
      }
      case "corners": {
        const [first] = this.points;
        if (first && this.points.length >= 3 && far(first, meant.at) < Math.max(reach * 0.8, 1e-6)) void this.close();
        else if (!this.points.some((point) => far(point, meant.at) < 1e-6)) this.points = [...this.points, meant.at];
        return;
      }
      case "measure":
      case "scale":
        this.points = this.points.length === 1 ? [...this.points, meant.at] : [meant.at];
        return;
      case "opening":
        if (meant.to !== "line") this.hint = "no-wall";
        else
          void this.#keep({
            op: "opening",
            storey: this.sheet().storey,
            kind: this.opening.kind,
            at: meant.at,
            width: this.opening.width,
          });
        return;
      default: {
        const act = this.#put(meant.at);
        if (act) void this.#keep(act);
        else this.hint = "nothing";
      }
    }
  };

  // ---- acts ----

  /** Closes the rectangle in the corner opposite to the first; what was typed counts instead. */
  async rectangle(opposite?: Point): Promise<void> {
    const [first] = this.points;
    if (!first) return;
    const to = opposite ?? this.here?.at ?? first;
    // Typed both, with nothing pointed at: to the right and up.
    const flat = to.X === first.X && to.Y === first.Y;
    await this.#keep({
      op: "room",
      storey: this.sheet().storey,
      ...(this.room && { id: this.room }),
      points: flat ? [first] : [first, to],
      ...(this.width.trim() && { width: this.width.trim() }),
      ...(this.depth.trim() && { depth: this.depth.trim() }),
    });
  }

  /** Closes the outline drawn corner by corner. */
  close(): Promise<void> {
    return this.#keep({
      op: "room",
      storey: this.sheet().storey,
      ...(this.room && { id: this.room }),
      points: this.points,
    });
  }

  /** What putting the thing from the finger to a place would be. */
  #put(at: Point): Act | undefined {
    const storey = this.sheet().storey;
    if (this.tool === "elsewhere") {
      const held = this.held;
      return held && (held.what === "device" || held.what === "head" || held.what === "opening")
        ? { op: held.what, storey, id: held.id, at }
        : undefined;
    }
    const hung = this.hung;
    if (!hung) return undefined;
    if ("id" in hung) return { op: hung.what, storey, id: hung.id, at };
    return hung.what === "device"
      ? { op: "device", storey, model: hung.model, at }
      : { op: "head", storey, kind: hung.kind, at };
  }

  /** What the grip, let go of here, would be. */
  #moved(): Act | undefined {
    if (this.tool === "place" || this.tool === "elsewhere") return this.here && this.#put(this.here.at);
    const [grip, at, storey] = [this.grip, this.here?.at, this.sheet().storey];
    if (!grip || !at) return undefined;
    const { held, handle } = grip;
    if (held.what === "device" || held.what === "head" || held.what === "opening")
      return { op: held.what, storey, id: held.id, at };
    if (!handle) return undefined;
    if (handle.part === "corner") return { op: "corner", storey, id: held.id, corner: handle.n, at };
    return { op: "side", storey, id: held.id, side: handle.n, by: this.outwards(held.id, handle.n, at) };
  }

  /** How far a place lies outside of a side of a room, metres. */
  outwards(room: string, side: number, at: Point): number {
    const outline = this.outline(room);
    const [a, b] = [outline[side], outline[(side + 1) % outline.length]];
    if (!a || !b) return 0;
    const length = far(a, b);
    const area = outline.reduce((sum, p, i) => {
      const q = outline[(i + 1) % outline.length] ?? p;
      return sum + p.X * q.Y - q.X * p.Y;
    }, 0);
    const right = ((b.Y - a.Y) * (at.X - a.X) - (b.X - a.X) * (at.Y - a.Y)) / length;
    return plain(area > 0 ? right : -right);
  }

  async #release(): Promise<void> {
    const act = this.#moved();
    if (act) await this.#keep(act);
    else this.grip = undefined;
  }

  /** Acts are done one after the other, each on a drawing that shows the one before. */
  #keep(act: Act): Promise<void> {
    // What is tapped from now on is meant for the room just drawn, not for the one before.
    if (act.op === "room") this.held = undefined;
    const next = this.#line.then(() => this.#do(act));
    this.#line = next.catch(() => undefined);
    return next;
  }

  async #do(raw: Act): Promise<void> {
    if (raw.at && raw.id && (raw.op === "device" || raw.op === "head"))
      this.rest = { key: `${raw.op}/${raw.id}`, at: raw.at };
    this.points = [];
    const act = await this.complete(raw);
    const shown = new Promise<void>((resolve) => {
      this.#settled = resolve;
      setTimeout(resolve, 3000); // the book is there all the same
    });
    const made = act && (await this.work.keep(act));
    this.grip = undefined;
    if (!act || !made) {
      this.settle();
      return;
    }
    this.here = undefined;
    this.width = "";
    this.depth = "";
    this.part = undefined;
    if (this.tool === "elsewhere" || this.tool === "divide") this.tool = "hold";
    await shown;
    this.done(made, act);
  }

  /** The book has come back with what was done: what is drawn is what is kept. */
  settle(): void {
    this.#settled?.();
    this.#settled = undefined;
    this.rest = undefined;
    if (!this.grip) this.work.drop();
  }

  /** An act that comes from a form. */
  act(act: Act): Promise<void> {
    return this.#keep({ storey: this.sheet().storey, ...act });
  }
}
