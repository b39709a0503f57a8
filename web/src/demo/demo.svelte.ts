// The practice building: a simulated panel and station that the server runs with --demo. Nothing here touches a real one.
import { ask } from "../sync/api";

export interface Fault {
  kind: "delay" | "lose-alarm" | "lose-restore" | "swap-zone" | "wrong-code" | "path-down";
  device?: string;
  seconds?: number;
  zone?: string;
  code?: string;
  path?: string;
}

export interface SimulatedPanel {
  site: string;
  speed: number;
  tripped: string[] | null;
  alarms: string[] | null;
  tampered: string[] | null;
  armed: string[] | null;
  pressed: string[] | null;
  mainsOff: boolean;
  batteryOff: boolean;
  down: string[] | null;
  faults: Fault[] | null;
  sent: { at: string; zone: string; code: string; qualifier: string; station: string; receiver: string }[] | null;
}

export interface SimulatedStation {
  name: string;
  operator: string;
  onTest: boolean;
  until?: string;
  families: string[] | null;
  reference: string;
  clockOffset: number;
  history: { at: string; zone: string; code: string; qualifier: string; label: string; onTest: boolean }[] | null;
  says: string;
}

export const demo = $state({
  /** Whether this server runs the practice building. */
  here: false,
  panel: undefined as SimulatedPanel | undefined,
  station: undefined as SimulatedStation | undefined,
  problem: "",
});

async function kept<T>(work: Promise<T>): Promise<T | undefined> {
  try {
    const answer = await work;
    demo.problem = "";
    return answer;
  } catch (reason) {
    demo.problem = reason instanceof Error ? reason.message : String(reason);
    return undefined;
  }
}

export async function lookForDemo(): Promise<void> {
  try {
    demo.here = (await ask<{ demo: boolean }>("GET", "/api/hello")).demo === true;
  } catch {
    // Without a server there is no practice building either.
  }
}

/** Counts what was done, so that a look from before it does not paint over it. */
let deeds = 0;

export async function lookAtPanel(): Promise<void> {
  const before = deeds;
  const seen = await kept(ask<SimulatedPanel>("GET", "/api/demo/panel"));
  if (seen && before === deeds) demo.panel = seen;
}

export async function lookAtStation(): Promise<void> {
  demo.station = (await kept(ask<SimulatedStation>("GET", "/api/demo/station"))) ?? demo.station;
}

export async function work(command: {
  do: string;
  device?: string;
  terminal?: string;
  head?: string;
  area?: string;
  fault?: Fault;
}): Promise<void> {
  deeds += 1;
  const answer = await kept(ask<SimulatedPanel>("POST", "/api/demo/panel", command));
  if (answer) demo.panel = answer;
  else await lookAtPanel(); // the deed may have been done all the same
}

export async function callStation(call: {
  do: string;
  account?: string;
  families?: string[];
  until?: string;
}): Promise<string> {
  demo.station = (await kept(ask<SimulatedStation>("POST", "/api/demo/station", call))) ?? demo.station;
  return demo.station?.says ?? "";
}
