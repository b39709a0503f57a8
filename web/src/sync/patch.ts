// Splitting an edit: what names people or says where they live travels sealed under the job's own key.
import type { Patch } from "../types";

/** Whole collections that are personal. internal/book Personal lists the same. */
const personal = ["people", "contacts"];
/** Single personal members within other objects. */
const within: Record<string, string[]> = { premises: ["address", "notes"] };

export interface Split {
  /** What may stand in the clear; without the personal parts. */
  patch: Patch;
  /** What must be sealed; undefined when nothing is personal. */
  private?: Patch;
}

const isObject = (value: unknown): value is Patch =>
  typeof value === "object" && value !== null && !Array.isArray(value);

/** Splits a merge patch of a site into its open and its personal part. Both together are the patch again. */
export function editPatch(patch: Patch): Split {
  const open: Patch = {};
  const sealed: Patch = {};
  for (const [name, value] of Object.entries(patch)) {
    const members = within[name];
    if (personal.includes(name)) sealed[name] = value;
    else if (members && isObject(value)) {
      const rest: Patch = {};
      const hidden: Patch = {};
      for (const [member, inner] of Object.entries(value)) (members.includes(member) ? hidden : rest)[member] = inner;
      if (Object.keys(rest).length > 0 || Object.keys(hidden).length === 0) open[name] = rest;
      if (Object.keys(hidden).length > 0) sealed[name] = hidden;
    } else open[name] = value;
  }
  return Object.keys(sealed).length > 0 ? { patch: open, private: sealed } : { patch: open };
}

/** A patch that sets one member deep inside: at(["zones", "09", "kind"], "smoke"). An undefined value deletes. */
export function at(path: string[], value: unknown): Patch {
  const [name, ...rest] = path;
  if (name === undefined) throw new Error("a patch needs a path");
  return { [name]: rest.length > 0 ? at(rest, value) : (value ?? null) };
}
