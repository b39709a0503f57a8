// The names under which the pages use the engine's answers. One file to swap when the Go types change.

export type StageID = "survey" | "schedule" | "key" | "prove" | "hand" | "look";

/** A place on a storey in metres, y up. */
export interface Point {
  X: number;
  Y: number;
}

// ---- every stage ----

export interface Header {
  job: string;
  seq: number;
  name: string;
  practice: boolean;
  erased: boolean;
  account: string;
  station: string;
  line: string;
  waiting: number;
  onTest: Banner | null;
  stages: Stage[];
  real: Help;
  people: Person[];
  conflicts: Conflict[] | null;
}

export interface Banner {
  run: string;
  state: string;
  until: string;
  covers: string;
  notOnTest: string;
  say: string;
  lapsed: boolean;
}

export interface Stage {
  id: StageID;
  name: string;
  left: string;
}

export interface Person {
  id: string;
  name: string;
  role: string;
}

export interface Conflict {
  /** For accepting it as it is. */
  key: string;
  entry: string;
  path: string;
  where: string;
  before: string;
  after: string;
  by: string;
  at: string;
  held: boolean;
}

/** Help for real smoke: what to do, in order. */
export interface Help {
  title: string;
  lines: string[];
  /** The emergency number; empty when the site does not say. */
  call: string;
}

// ---- the job book ----

export interface Content {
  fmt: number;
  job: string;
  id: string;
  at: string;
  by: string;
  kind: string;
  base: number;
  body: Record<string, unknown>;
}

export interface Entry extends Content {
  seq: number;
  received: string;
  content: string;
  prev: string;
  hash: string;
}

export interface InboxRow {
  row: number;
  receiver: string;
  at: string;
  remote: string;
  transport: string;
  account: string;
  raw: string;
  events: SignalEvent[] | null;
  answered: boolean;
  why: string;
  job?: string;
}

export interface SignalEvent {
  account: string;
  qualifier: string;
  code: string;
  kind: string;
  family?: string;
  words: string;
  number: number;
  numberIs: string;
  address?: string;
  area: number;
}

export interface LogLine {
  seq: number;
  id: string;
  at: string;
  by: string;
  kind: string;
  say: string;
}

// ---- survey ----

export interface Survey {
  site: Site;
  plans: Plan[] | null;
  rooms: RoomRow[] | null;
  heads: HeadRow[] | null;
  devices: DeviceRow[] | null;
  questions: QuestionRow[] | null;
  missing: string[] | null;
  words: Record<string, Choice[] | null> | null;
}

export interface Choice {
  value: string;
  say: string;
}

export interface RoomRow {
  id: string;
  name: string;
  storey: string;
  line: string;
  sleeping: boolean;
}

export interface HeadRow {
  id: string;
  kind: string;
  room: string;
  group: string;
  made: string;
  due: string;
  state: string;
  line: string;
}

export interface DeviceRow {
  id: string;
  name: string;
  identity: string;
  room: string;
  zones: string[] | null;
  line: string;
}

export interface QuestionRow {
  id: string;
  ask: string;
  of: string;
  answer: string;
}

// ---- the drawing of a storey ----

export interface Plan {
  storey: string;
  name: string;
  min: Point;
  max: Point;
  rooms: PlanRoom[] | null;
  walls: PlanWall[] | null;
  leaves: PlanLeaf[] | null;
  marks: PlanMark[] | null;
  north: number;
  scale: number;
  missing?: string[] | null;
}

export interface PlanRoom {
  id: string;
  name: string;
  outline: Point[] | null;
  label: Point;
}

export interface PlanWall {
  id: string;
  outline: Point[];
  hatch?: string;
}

export interface PlanLeaf {
  id: string;
  kind: string;
  from: Point;
  to: Point;
  hinge: Point;
  tip: Point;
  swing: boolean;
  large: boolean;
  sweep: boolean;
  fire?: boolean;
}

export interface PlanMark {
  id: string;
  what: string;
  shape: string;
  at: Point;
  text: string;
  say: string;
  zones?: string[] | null;
}

// ---- schedule ----

export interface Schedule {
  zones: ZoneRow[] | null;
  findings: Finding[] | null;
  accepted: AcceptedFinding[] | null;
  notJudged: Finding[] | null;
  counts: Record<string, number>;
  ruleSet: string;
  proposal: Proposal | null;
  kinds: Choice[] | null;
  lossWindows: string[] | null;
}

export interface Finding {
  rule: string;
  severity: "stop" | "fix" | "advise";
  who: string;
  where: string;
  say: string;
  do: string;
  estimate?: boolean;
  clause?: { document: string; edition: string; clause: string; confidence: string };
  places?: { kind: string; id: string }[] | null;
  at?: { storey: string; x: number; y: number };
  patch?: Patch;
  patchSay?: string;
  notJudged?: boolean;
  missing?: string[] | null;
  key: string;
}

export interface AcceptedFinding {
  finding: Finding;
  by: string;
  at: string;
  reason: string;
}

export interface ZoneRow {
  id: string;
  label: string;
  kind: string;
  kindSay: string;
  area: string;
  room: string;
  device: string;
  deviceSay: string;
  identity: string;
  terminal: string;
  code: string;
  codeSay: string;
  paths: string[] | null;
  lossWindow: string;
  doorTone: boolean;
  bypass: boolean;
  worst: string;
  lifeSafety: boolean;
}

/** Zones proposed for devices that have none, each choice explained. */
export interface Proposal {
  zones?: { zone: string; device: string; terminal: string; say: string }[] | null;
  patch?: Patch;
}

// ---- the site, as far as forms edit it ----

/** An RFC 7396 merge patch: null deletes. */
export type Patch = { [member: string]: unknown };

export interface Site {
  format: string;
  name?: string;
  practice?: boolean;
  premises?: { [member: string]: unknown; units?: string; country?: string };
  people?: Record<string, { name: string; role?: string; firm?: string; phone?: string }>;
  storeys?: Record<string, { name: string; level?: string; ceiling?: string; order?: number }>;
  rooms?: Record<string, SiteRoom>;
  models?: Record<string, SiteModel>;
  devices?: Record<string, SiteDevice>;
  heads?: Record<string, SiteHead>;
  groups?: Record<string, { name?: string; link?: string }>;
  areas?: Record<string, { name: string }>;
  zones?: Record<string, SiteZone>;
  account?: { number?: string; paths?: Record<string, { name?: string; kind?: string; order?: number }> };
  questions?: Record<string, { ask: string; of: string; answer?: string }>;
}

export interface SiteRoom {
  name: string;
  storey?: string;
  use?: string;
  sleeping?: boolean;
  hazards?: string[];
  ceiling?: string;
  notes?: string;
}

export interface SiteModel {
  name: string;
  class: string;
  family?: string;
  link?: string;
  terminals?: Record<string, { senses: string; name?: string }>;
}

export interface SiteDevice {
  model?: string;
  identity?: string;
  room?: string;
  at?: unknown;
  hears?: string;
  beside?: string;
  made?: string;
  installed?: string;
  battery?: string;
  faces?: string;
  notes?: string;
}

export interface SiteHead {
  kind: string;
  group?: string;
  room?: string;
  at?: unknown;
  made?: string;
  life?: string;
  power?: string;
  notes?: string;
}

export interface SiteZone {
  label?: string;
  words?: string[];
  kind?: string;
  area?: string;
  device?: string;
  terminal?: string;
  code?: string;
  paths?: string[];
  lossWindow?: string;
  doorTone?: boolean;
  bypass?: boolean;
  keyed?: boolean;
  notes?: string;
}
