// A second, independent writer of the job book, made from docs/format/job-book.md alone. It wrote the samples beside it:
//
//	node make.mjs
//
// It prints the same bytes every time. Released samples are never written anew: a new format gets new files.
import { createCipheriv, createHash, createPrivateKey, createPublicKey, sign } from "node:crypto";
import { writeFileSync } from "node:fs";

// JSON.stringify writes numbers and strings as RFC 8785 asks, and JavaScript compares strings by UTF-16 code units.
const canonical = (v) =>
	Array.isArray(v) ? `[${v.map(canonical).join(",")}]`
	: v !== null && typeof v === "object"
		? `{${Object.keys(v).sort().map((k) => `${JSON.stringify(k)}:${canonical(v[k])}`).join(",")}}`
		: JSON.stringify(v);
const sha256 = (data) => createHash("sha256").update(data).digest("hex");

const seed = Buffer.from(Array.from({ length: 32 }, (_, i) => i)); // 00 01 02 ... 1f
const jobKey = Buffer.alloc(32, 0x2a);
const privateKey = createPrivateKey({ key: Buffer.concat([Buffer.from("302e020100300506032b657004220420", "hex"), seed]), format: "der", type: "pkcs8" });
const publicKey = createPublicKey(privateKey).export({ format: "der", type: "spki" }).subarray(-32);
const fingerprint = sha256(publicKey);

const seal = (plain, bound, nonceByte) => {
	const nonce = Buffer.alloc(12, nonceByte);
	const cipher = createCipheriv("aes-256-gcm", jobKey, nonce).setAAD(Buffer.from(bound));
	return Buffer.concat([nonce, cipher.update(plain), cipher.final(), cipher.getAuthTag()]);
};

const job = "01994e5c-3a00-7000-8000-00000000a001";
const id = (n) => `01994e5c-3a00-7000-8000-${n.toString(16).padStart(12, "0")}`;
const at = (n) => `2026-09-15T18:${String(n).padStart(2, "0")}:05.120Z`;

const said = [
	["edit", "p-7f3a", { patch: { zones: { "09": { label: "Landing smoke", "\ufb33": 1, "\u{1f600}": 2, "\r": null } } } }],
	["ontest", "p-7f3a", { act: "open", categories: ["fire"], private: { operator: "Bao Ferrant" } }],
	["signal", "receiver:main", { account: "4816", code: "E110", zone: 9, levels: [0.000001, 1e-7, 4.5, -0, 1e21, 333333333.33333329] }],
	["kind-of-2031", "p-7f3a", { text: "kept, though unknown \u007f \u2028 \" \\ / \u0001 \n" }],
	["key", "server", { act: "erased" }],
];

const entries = [];
let prev = "0".repeat(64);
said.forEach(([kind, by, body], i) => {
	const seq = i + 1;
	const content = { fmt: 1, job, id: id(seq), at: at(seq), by, kind, base: i, body };
	if (body.private) {
		content.body = { ...body, private: "v1:" + seal(canonical(body.private), `${job}|${content.id}|${kind}`, seq).toString("base64url") };
	}
	const place = { content: sha256(canonical(content)), job, prev, received: at(seq + 1), seq };
	const hash = sha256(canonical(place));
	entries.push({ ...content, ...place, hash });
	prev = hash;
});

const header = canonical({ exported: at(30), format: "proofbell.book/1", job, key: fingerprint, name: "Larkwater Mill", public: publicKey.toString("hex") });
const head = { at: at(30), hash: prev, header: sha256(header), job, key: fingerprint, seq: entries.length };
head.sig = sign(null, Buffer.from(canonical(head)), privateKey).toString("hex");

writeFileSync("fmt1-book.pbook", [header, ...entries.map(canonical), canonical(head)].map((l) => l + "\n").join(""));
for (const e of entries) writeFileSync(`fmt1-${e.kind}.json`, canonical(e) + "\n");
writeFileSync("fmt1-blob.sealed", Buffer.concat([Buffer.from("v1:"), seal("the photo of zone 9", `${job}|blob`, 9)]));
