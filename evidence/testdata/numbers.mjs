// Wrote numbers.txt: bits of a double, and what ECMAScript's Number::toString makes of it.
//
//	node numbers.mjs > numbers.txt
const view = new DataView(new ArrayBuffer(8));
const line = (x) => { view.setFloat64(0, x); console.log(view.getBigUint64(0).toString(16).padStart(16, "0"), String(x)); };
let state = 0x9e3779b97f4a7c15n; // xorshift64: the same numbers every time
for (let i = 0; i < 300; ) {
	for (const [left, by] of [[1, 13n], [0, 7n], [1, 17n]]) state ^= left ? BigInt.asUintN(64, state << by) : state >> by;
	view.setBigUint64(0, state);
	const x = view.getFloat64(0);
	if (Number.isFinite(x)) { line(x); i++; }
}
for (let e = -12; e <= 24; e++) for (const m of [1, 1.5, 9.999999999999998, 1.2345678901234567]) line(Number(`${m}e${e}`));
for (let n = 0; n <= 40; n++) line(n / 10);
