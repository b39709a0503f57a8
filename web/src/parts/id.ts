// Keys of new things.
const longest = 32; // of an id in the site file

/** A key for a new thing: the words of its name in lower case, with a number when that is taken. */
export function newID(name: string, taken: Record<string, unknown> | undefined): string {
  const plain = name
    .normalize("NFKD")
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, "-")
    .replace(/^-+|-+$/g, "");
  const base = plain || "new";
  for (let n = 1; ; n++) {
    const end = n === 1 ? "" : `-${n}`;
    const id = base.slice(0, longest - end.length).replace(/-+$/, "") + end;
    if (!taken || !(id in taken)) return id;
  }
}
