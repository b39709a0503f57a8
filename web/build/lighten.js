// Makes the engine lighter to send: node lighten.js FROM TO.
//
// Go's linker leaves a gap in the data for every run of zeros, which makes a hundred thousand pieces that compress badly:
// here neighbours are one piece again. And it keeps for every instruction the file and line it came from, for stack traces
// that no browser of ours shows: those lines are zeroed, names of functions stay. Stack maps share the table with the lines
// and are kept. What stands in memory is otherwise the same, byte for byte.
import { readFileSync, writeFileSync } from "node:fs";
import { argv } from "node:process";
import { pathToFileURL } from "node:url";

const dataSection = 11;
const gap = 200; // bytes of zeros from which on a new piece is cheaper than the zeros

/** The module with its data in few pieces and without lines. `note` hears why lines were kept, when they were. */
export function lighten(module, note = () => {}) {
  const at = section(module, dataSection);
  const memory = image(module, at.body);
  const why = dropLines(memory);
  if (why) note(why);
  const data = pieces(memory);
  return Buffer.concat([
    module.subarray(0, at.start),
    Buffer.from([dataSection]),
    unsigned(data.length),
    data,
    module.subarray(at.end),
  ]);
}

function section(module, wanted) {
  for (let at = 8; at < module.length; ) {
    const [length, body] = readUnsigned(module, at + 1);
    if (module[at] === wanted) return { start: at, body, end: body + length };
    at = body + length;
  }
  throw new Error("lighten: the module has no data");
}

/** The memory as the module begins with it. */
export function image(module, body = section(module, dataSection).body) {
  const parts = [];
  let [count, at] = readUnsigned(module, body);
  for (; count > 0; count--) {
    if (module[at] !== 0 || module[at + 1] !== 0x41) throw new Error("lighten: data that is not laid at a fixed place");
    const [place, end] = readSigned(module, at + 2);
    const [length, begin] = readUnsigned(module, end + 1);
    at = begin + length;
    parts.push([place, module.subarray(begin, at)]);
  }
  const memory = Buffer.alloc(parts.reduce((top, [place, part]) => Math.max(top, place + part.length), 0));
  for (const [place, part] of parts) part.copy(memory, place);
  return memory;
}

function pieces(memory) {
  const out = [];
  for (let from = 0; from < memory.length; ) {
    while (from < memory.length && memory[from] === 0) from++;
    let end = from;
    for (let zeros = 0, i = from; i < memory.length && zeros < gap; i++) {
      zeros = memory[i] === 0 ? zeros + 1 : 0;
      if (zeros === 0) end = i + 1;
    }
    if (end > from)
      out.push(
        Buffer.from([0, 0x41]),
        signed(from),
        Buffer.from([0x0b]),
        unsigned(end - from),
        memory.subarray(from, end),
      );
    from = Math.max(end, from + 1);
  }
  return Buffer.concat([unsigned(out.length / 5), ...out]);
}

/**
 * Zeroes the lines in Go's table of functions, laid out as runtime/symtab.go of Go 1.20 to 1.26 has it. Returns why it
 * did not, or nothing.
 */
function dropLines(memory) {
  const head = memory.indexOf(Buffer.from([0xf1, 0xff, 0xff, 0xff, 0, 0, 1, 8]));
  if (head < 0) return "Go's table of functions is not laid out as known: lines stay";
  const word = (n) => Number(memory.readBigUInt64LE(head + 8 + 8 * n));
  const functions = word(0);
  const [values, table] = [head + word(6), head + word(7)];
  if (!(functions > 0 && values > head && table > values && table + 8 * functions < memory.length))
    return "Go's table of functions does not add up: lines stay";

  const kept = new Set();
  const heads = [];
  for (let i = 0; i < functions; i++) {
    const one = table + memory.readUInt32LE(table + 8 * i + 4);
    heads.push(one);
    kept.add(memory.readUInt32LE(one + 16)); // how the stack stands
    const more = memory.readUInt32LE(one + 28);
    if (more > 16) return `a function with ${more} tables: lines stay`;
    for (let k = 0; k < more; k++) kept.add(memory.readUInt32LE(one + 44 + 4 * k)); // what on it is alive
  }
  const copy = Buffer.alloc(table - values);
  for (const offset of kept) {
    if (offset === 0) continue;
    const end = tableEnd(memory, values + offset);
    memory.copy(copy, offset, values + offset, end);
  }
  copy[0] = memory[values];
  copy.copy(memory, values);
  for (const one of heads) memory.fill(0, one + 20, one + 28); // file and line: offset 0 means that none are known
}

/** Pairs of variable-length numbers; a first half of zero ends them, except in the first pair. */
function tableEnd(memory, at) {
  for (let first = true; first || memory[at] !== 0; first = false) {
    for (let half = 0; half < 2; half++) at = readUnsigned(memory, at)[1];
  }
  return at + 1;
}

function readUnsigned(bytes, at) {
  let value = 0;
  for (let shift = 1; ; shift *= 128) {
    const byte = bytes[at++];
    value += (byte & 127) * shift;
    if (byte < 128) return [value, at];
  }
}

function readSigned(bytes, at) {
  const [value, end] = readUnsigned(bytes, at);
  const range = 128 ** (end - at);
  return [bytes[end - 1] & 64 ? value - range : value, end];
}

function unsigned(value) {
  const out = [];
  for (; value > 127; value = Math.floor(value / 128)) out.push((value % 128) | 128);
  return Buffer.from([...out, value]);
}

/** A place in memory: never below zero. */
function signed(value) {
  const bytes = unsigned(value);
  if (!(bytes[bytes.length - 1] & 64)) return bytes;
  bytes[bytes.length - 1] |= 128;
  return Buffer.concat([bytes, Buffer.from([0])]);
}

if (import.meta.url === pathToFileURL(argv[1] ?? "").href) {
  const [from, to] = argv.slice(2);
  writeFileSync(
    to,
    lighten(readFileSync(from), (why) => console.error(`web/build/lighten.js: ${why}`)),
  );
}
