// A small router: the address says the job, the stage and what is open in it, so that Back closes a sheet.
import type { StageID } from "./types";

export const stages: readonly StageID[] = ["survey", "schedule", "key", "prove", "hand", "look"];

export interface Route {
  /** A page outside of all jobs: the list of jobs, pairing, what this device is and keeps, or what the receiver hears. */
  page: "jobs" | "pair" | "device" | "receiver";
  /** Empty on the pages outside of jobs. */
  job: string;
  stage: StageID;
  /** What stands in the address where a stage should, when it is none. */
  unknown: string;
  /** What is open within the stage or the page: ["zone", "09"]. */
  open: string[];
  /** The token of a sticker that was followed; empty: none. */
  sticker: string;
}

/** Reads an address. Anything unknown is the list of jobs; an unknown stage is told apart. */
export function parse(path: string): Route {
  const [root, job, stage, ...open] = path.split("/").filter(Boolean).map(decodeURIComponent);
  const page = root === "pair" || root === "device" || root === "receiver" ? root : "jobs";
  if (page === "receiver")
    return {
      page,
      job: "",
      stage: "survey",
      unknown: "",
      open: path.split("/").filter(Boolean).slice(1).map(decodeURIComponent),
      sticker: "",
    };
  if (root !== "job" || !job)
    return { page, job: "", stage: "survey", unknown: "", open: [], sticker: root === "s" ? (job ?? "") : "" };
  const known = stages.find((s) => s === stage);
  return {
    page,
    job,
    stage: known ?? "survey",
    unknown: known ? "" : (stage ?? ""),
    open: known ? open : [],
    sticker: "",
  };
}

/** The address of a route. */
export function address(job: string, stage: StageID = "survey", ...open: string[]): string {
  return `/${["job", job, stage, ...open].map(encodeURIComponent).join("/")}`;
}

export const route = $state<Route>(parse(location.pathname));

function read(): void {
  Object.assign(route, parse(location.pathname));
}
addEventListener("popstate", read);

/** Goes to an address of this application; `replace` leaves no step to go back to. */
export function go(to: string, replace = false): void {
  if (to === location.pathname) return;
  if (replace) history.replaceState(history.state, "", to);
  else history.pushState({ inside: true }, "", to);
  read();
}

/** Opens something within the present stage: open("zone", "09"). open() closes it again. */
export function open(...what: string[]): void {
  if (what.length === 0 && (history.state as { inside?: boolean } | null)?.inside && route.open.length > 0) {
    history.back();
    return;
  }
  go(address(route.job, route.stage, ...what), route.open.length > 0);
}

/** For links: keeps an ordinary click inside the application and leaves all other clicks to the browser. */
export function follow(event: MouseEvent & { currentTarget: HTMLAnchorElement }): void {
  if (event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
  event.preventDefault();
  go(event.currentTarget.pathname);
}
