// Acts that are being written to this device. Who is about to leave the page waits for them.

const running = new Set<Promise<unknown>>();

/** Counts a piece of work until it ends; returns it. */
export function counted<T>(work: Promise<T>): Promise<T> {
  running.add(work);
  const done = () => running.delete(work);
  work.then(done, done);
  return work;
}

/** Resolves when nothing is being written any more. */
export async function settled(): Promise<void> {
  while (running.size > 0) await Promise.allSettled(running);
}
