import { svelte } from "@sveltejs/vite-plugin-svelte";
import { defineConfig } from "vite";

// A running `bin/proofbell serve` answers the API while `npm run dev` serves the pages.
const server = "http://127.0.0.1:8080";

export default defineConfig({
  plugins: [svelte()],
  build: {
    target: "es2022",
    outDir: "dist",
    // engine.wasm is built beside these files, and .gitkeep is committed. Names with a hash live in assets/, which the build empties.
    emptyOutDir: false,
    // Fonts stay files: a data: URL would need a looser policy and would not be cached on its own.
    assetsInlineLimit: 0,
    rolldownOptions: {
      checks: { pluginTimings: false }, // a note about slow plugins on a busy machine is noise
      input: { app: "index.html", sw: "src/workers/sw.ts" },
      output: {
        // The service worker's address is its identity: it must never change.
        entryFileNames: (chunk) => (chunk.name === "sw" ? "sw.js" : "assets/[name]-[hash].js"),
        chunkFileNames: "assets/[name]-[hash].js",
        assetFileNames: "assets/[name]-[hash][extname]",
      },
    },
  },
  worker: { format: "es" },
  // What the engine says in other languages is in the Go program, beside this folder.
  server: { fs: { allow: [".."] }, proxy: { "/api": server, "/engine.wasm": server, "/wasm_exec.js": server } },
});
