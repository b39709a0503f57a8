// Writes the files of this folder with packages of the npm registry; see README.md. Run where they are installed: node make.mjs OUT
// One plan, in centimetres: kitchen 400 x 300 at the left, hall 200 x 300 beside it, lounge 600 x 300 above both.
import { mkdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { DxfWriter, LWPolylineFlags, Units, point2d, point3d } from "@tarikjabiri/dxf";
import { SVG, registerWindow } from "@svgdotjs/svg.js";
import Drawing from "dxf-writer";
import makerjs from "makerjs";
import { createSVGWindow } from "svgdom";

const out = process.argv[2] ?? ".";
mkdirSync(out, { recursive: true });
const save = (name, text) => writeFileSync(join(out, name), text.endsWith("\n") ? text : `${text}\n`);
const rooms = { Kitchen: [0, 0, 400, 300], Hall: [400, 0, 600, 300], Lounge: [0, 300, 600, 600] };

// Walls as single lines, in metres, with the names as texts; the wall between kitchen and hall meets the lounge's in its middle.
{
  const d = new Drawing();
  d.setUnits("Meters");
  d.addLayer("walls", Drawing.ACI.RED, "CONTINUOUS");
  d.setActiveLayer("walls");
  const lines = [
    [0, 0, 6, 0],
    [6, 0, 6, 6],
    [6, 6, 0, 6],
    [0, 6, 0, 0],
    [0, 3, 6, 3],
    [4, 0, 4, 3],
  ];
  for (const [x1, y1, x2, y2] of lines) d.drawLine(x1 + 100, y1 + 50, x2 + 100, y2 + 50);
  for (const [name, [x0, y0, x1, y1]] of Object.entries(rooms))
    d.drawText((x0 + x1) / 200 + 100, (y0 + y1) / 200 + 50, 0.2, 0, name);
  save("lines-m.dxf", d.toDxfString());
}

// Closed polylines on layers of their own, in millimetres; the hall is a block that is put in turned and scaled.
{
  const d = new DxfWriter();
  d.setUnits(Units.Millimeters);
  d.addLayer("rooms", 7, "Continuous");
  const ring = (target, [x0, y0, x1, y1], k) =>
    target.addLWPolyline(
      [
        [x0, y0],
        [x1, y0],
        [x1, y1],
        [x0, y1],
      ].map(([x, y]) => ({ point: point2d(x * k, y * k) })),
      { flags: LWPolylineFlags.Closed, layerName: "rooms" },
    );
  ring(d, rooms.Kitchen, 10);
  ring(d, rooms.Lounge, 10);
  const block = d.addBlock("Hall");
  ring(block, [0, 0, 300, 200], 1); // 3 m by 2 m in centimetres, lying: turned by 90 degrees it stands
  d.addInsert("Hall", point3d(6000, 0), { rotationAngle: 90, scaleFactor: { x: 10, y: 10, z: 10 } });
  for (const [name, [x0, y0, x1, y1]] of Object.entries(rooms)) d.addText(point3d((x0 + x1) * 5, (y0 + y1) * 5), 200, name);
  save("polylines-mm.dxf", d.stringify());
}

// The same rooms as outlines that were put together from lines, in inches and as SVG.
{
  const models = {};
  for (const [name, [x0, y0, x1, y1]] of Object.entries(rooms)) {
    models[name] = makerjs.model.move(new makerjs.models.Rectangle(x1 - x0, y1 - y0), [x0, y0]);
    makerjs.model.addCaption(models[name], name, [(x1 - x0) / 2, (y1 - y0) / 2], [(x1 - x0) / 2 + 1, (y1 - y0) / 2]);
  }
  const plan = { models, units: makerjs.unitType.Centimeter };
  const inches = makerjs.model.convertUnits(makerjs.cloneObject(plan), makerjs.unitType.Inch);
  save("models-in.dxf", makerjs.exporter.toDXF(inches, { units: makerjs.unitType.Inch }));
  save("models-cm.svg", makerjs.exporter.toSVG(plan, { useSvgPathOnly: false }));
}

// Rectangles within groups that are turned and moved, names as texts, in centimetres.
{
  const window = createSVGWindow();
  registerWindow(window, window.document);
  const sheet = SVG(window.document.documentElement).size("600", "600").viewbox(0, 0, 600, 600);
  const group = sheet.group().id("walls").rotate(90, 300, 300);
  for (const [name, [x0, y0, x1, y1]] of Object.entries(rooms)) {
    group.rect(x1 - x0, y1 - y0).move(x0, 600 - y1).fill("none").stroke("#000");
    group.plain(name).attr({ x: (x0 + x1) / 2, y: 600 - (y0 + y1) / 2 });
  }
  save("groups-cm.svg", sheet.svg());
}
