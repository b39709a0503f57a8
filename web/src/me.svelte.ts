// Who this device is to the server: the lead's own computer, or a paired phone as lead or helper.

export type Role = "lead" | "helper";

const slot = "proofbell.role";
const bySlot = "proofbell.by";

function kept(): Role {
  return typeof localStorage !== "undefined" && localStorage.getItem(slot) === "helper" ? "helper" : "lead";
}

export const me = $state({
  /** As the server said last; kept for when there is no signal. The server decides again for each entry. */
  role: kept(),
  /** The opaque name that a helper's acts bear; empty where the server gave none. */
  by: (typeof localStorage !== "undefined" && localStorage.getItem(bySlot)) || "",
  /** What this device is called there; empty on the computer itself. */
  name: "",
  /** Whether the server can pair other devices. */
  lan: false,
  /** False once the server said that this device is not paired, or not any more. */
  paired: true,
  version: "",
});

/** Takes in what `GET /api/hello` says. */
export function greeted(hello: {
  version: string;
  me?: { role: Role; name?: string; by?: string; lan: boolean };
}): void {
  me.version = hello.version;
  if (!hello.me) return;
  me.role = hello.me.role;
  me.name = hello.me.name ?? "";
  me.by = hello.me.by ?? "";
  me.lan = hello.me.lan;
  localStorage.setItem(slot, me.role);
  localStorage.setItem(bySlot, me.by);
}
