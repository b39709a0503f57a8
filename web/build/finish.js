// Completes web/dist after `vite build` and the engine: lists the files for the service worker and
// compresses them once, so that the server never compresses while someone waits.
import { createHash } from "node:crypto";
import { existsSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import { extname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { brotliCompressSync, constants, gzipSync } from "node:zlib";

const dist = fileURLToPath(new URL("../dist/", import.meta.url));
const compressible = new Set([".css", ".html", ".js", ".json", ".svg", ".wasm", ".webmanifest"]);
const smallest = 512; // bytes: below this the header costs more than the body saves

const fail = (message) => {
  console.error(`web/build/finish.js: ${message}`);
  process.exit(1);
};

const all = readdirSync(dist, { recursive: true })
  .filter((name) => statSync(join(dist, name)).isFile())
  .sort();
const files = all.filter((name) => !/\.(gz|br)$/.test(name) && name !== ".gitkeep" && name !== "files.js");

for (const needed of ["index.html", "sw.js", "engine.wasm", "wasm_exec.js"]) {
  if (!files.includes(needed)) fail(`web/dist/${needed} is missing: build it first (./run does)`);
}
if (/^\s*(import|export)\b/m.test(readFileSync(join(dist, "sw.js"), "utf8"))) {
  fail("sw.js imports another file: src/workers/sw.ts must stay self-contained");
}

const whole = createHash("sha256");
for (const name of files) whole.update(`${name}\0`).update(readFileSync(join(dist, name)));
const shell = {
  version: whole.digest("hex").slice(0, 16),
  files: [...files, "files.js"]
    .filter((name) => name !== "sw.js")
    .map((name) => (name === "index.html" ? "/" : `/${name}`)),
};
writeFileSync(join(dist, "files.js"), `self.PROOFBELL_SHELL = ${JSON.stringify(shell)};\n`);

for (const name of all) {
  if (/\.(gz|br)$/.test(name) && !existsSync(join(dist, name.slice(0, -3)))) rmSync(join(dist, name));
}
for (const name of [...files, "files.js"]) {
  const path = join(dist, name);
  const { mtimeMs, size } = statSync(path);
  const fresh = (suffix) => existsSync(path + suffix) && statSync(path + suffix).mtimeMs >= mtimeMs;
  if (!compressible.has(extname(name)) || size < smallest || (fresh(".gz") && fresh(".br"))) continue;
  const raw = readFileSync(path);
  writeFileSync(`${path}.gz`, gzipSync(raw, { level: 9 }));
  // The engine, 16.6 MB: quality 9 takes 4 s and leaves 2.67 MB, 10 takes 18 s, 11 takes 29 s and leaves 2.30.
  const params = {
    [constants.BROTLI_PARAM_QUALITY]: 11,
    [constants.BROTLI_PARAM_LGWIN]: constants.BROTLI_MAX_WINDOW_BITS,
    [constants.BROTLI_PARAM_SIZE_HINT]: size,
  };
  writeFileSync(`${path}.br`, brotliCompressSync(raw, { params }));
}
