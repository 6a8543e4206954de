/* What the page works out: places of a grid, the text of pins.toml, what is not yet right. Touches no element. */
"use strict";

/* [row, column] of places 1, 2, ... : along the rows, down the columns, or to and fro; "mirror" from the right. */
function placesInOrder(rows, columns, numbering) {
  const [way, mirror] = numbering.split(" ");
  const cells = [];
  if (way === "column") {
    for (let c = 0; c < columns; c++) for (let r = 0; r < rows; r++) cells.push([r, c]);
  } else {
    for (let r = 0; r < rows; r++) for (let c = 0; c < columns; c++) cells.push([r, c]);
  }
  return cells.map(([r, c]) => {
    const turned = way === "snake" && r % 2 ? columns - 1 - c : c;
    return [r, mirror ? columns - 1 - turned : turned];
  });
}

/* Where the point (u, v) of the unit square lies between four corners [x, y], clockwise from the top left:
   as a flat face is seen from anywhere (a homography); four corners that span no such face: bilinear. */
function betweenCorners(corners, u, v) {
  const [[x0, y0], [x1, y1], [x2, y2], [x3, y3]] = corners;
  const [ax, ay, bx, by] = [x1 - x2, y1 - y2, x3 - x2, y3 - y2];
  const [sx, sy] = [x0 - x1 + x2 - x3, y0 - y1 + y2 - y3];
  const spread = ax * by - bx * ay;
  const g = (sx * by - bx * sy) / spread, h = (ax * sy - sx * ay) / spread;
  const below = g * u + h * v + 1;
  if (!Number.isFinite(g) || !Number.isFinite(h) || g <= -1 || h <= -1 || g + h <= -1) {
    const mix = (k) => (1 - v) * ((1 - u) * corners[0][k] + u * corners[1][k])
      + v * ((1 - u) * corners[3][k] + u * corners[2][k]);
    return [mix(0), mix(1)];
  }
  return [
    ((x1 - x0 + g * x1) * u + (x3 - x0 + h * x3) * v + x0) / below,
    ((y1 - y0 + g * y1) * u + (y3 - y0 + h * y3) * v + y0) / below,
  ];
}

/* Centre [x, y] of the cell [row, column]; the corners are the centres of the corner cells. */
function centreOf(grid, cell) {
  const part = (k, many) => (many > 1 ? k / (many - 1) : 0);
  return betweenCorners(grid.corners, part(cell[1], grid.columns), part(cell[0], grid.rows));
}

/* Distance to the nearest other pin; null for a lone one. */
function nearest(pins, k) {
  let least = null;
  pins.forEach((pin, i) => {
    if (i === k || pin.x == null) return;
    const far = Math.hypot(pin.x - pins[k].x, pin.y - pins[k].y);
    if (far > 0 && (least === null || far < least)) least = far;
  });
  return least;
}

function rounded(value) { return Math.round(value * 100) / 100; }

function tomlValue(value) {
  if (Array.isArray(value)) return "[" + value.map(tomlValue).join(", ") + "]";
  if (typeof value === "number") return String(value);
  if (typeof value === "boolean") return String(value);
  return JSON.stringify(String(value)).replace(/\u007f/g, "\\u007f");
}

function tomlTable(head, table) {
  const lines = Object.entries(table)
    .filter(([key, value]) => !key.startsWith("_") && value !== null && value !== undefined && value !== "")
    .map(([key, value]) => key + " = " + tomlValue(["x", "y", "radius"].includes(key) ? rounded(value) : value));
  return head + "\n" + lines.join("\n") + "\n";
}

/* The text of pins.toml. Keys that this page does not know of go through as they came. */
function pinsToml(state, file) {
  const box = (area) => ({ ...area, box: area.box.map(rounded) });
  return [
    "# Saved by the page of `hotspot place`. It stands in for [connector], [[pin]] and [[region]] of session.toml.",
    ...(state.areas.length ? [] : ["region = []\n"]),
    tomlTable("[connector]", { ...state.connector, on: file }),
    ...state.pins.map((pin) => tomlTable("[[pin]]", pin)),
    ...state.areas.map((area) => tomlTable("[[region]]", box(area))),
  ].join("\n");
}

/* The words of the page, which come with what it begins with; {name} stands for a value. */
function phrase(code, values) {
  return START.words[code].replace(/\{(\w+)\}/g, (all, name) => String(values[name]));
}

/* What keeps the text from being taken (`bad`), and what to look at (`odd`), as sentences. */
function notYetRight(state, width, height) {
  const bad = [], odd = [];
  const names = state.pins.map((pin) => pin.name);
  const outside = (x, y) => x < -0.5 || y < -0.5 || x > width - 0.5 || y > height - 0.5;
  if (!names.length) bad.push(phrase("no_pin"));
  if (names.some((name) => !String(name).trim())) bad.push(phrase("no_name"));
  const twice = [...new Set(names.filter((name, k) => names.indexOf(name) !== k))];
  if (twice.length) bad.push(phrase("twice", { names: twice.join(", ") }));
  const loose = state.pins.filter((pin) => pin.x == null).map((pin) => pin.name);
  if (loose.length) bad.push(phrase("loose", { names: loose.join(", ") }));
  const lost = state.pins.filter((pin) => pin.x != null && outside(pin.x, pin.y)).map((pin) => pin.name);
  if (lost.length) bad.push(phrase("lost", { names: lost.join(", ") }));
  const lone = state.areas.filter((area) => area.pin && !names.includes(area.pin)).map((area) => area.name);
  if (lone.length) bad.push(phrase("lone", { names: lone.join(", ") }));
  const over = state.pins.filter((pin, k) => state.pins.some((other, i) => i !== k && pin.x != null && other.x != null
    && Math.hypot(pin.x - other.x, pin.y - other.y) < pin.radius + other.radius - 0.5)).map((pin) => pin.name);
  if (over.length) odd.push(phrase("over", { names: over.join(", ") }));
  const small = state.pins.filter((pin) => pin.x != null && pin.radius < 1.5).map((pin) => pin.name);
  if (small.length) odd.push(phrase("small", { names: small.join(", ") }));
  const { rows, columns, empty } = state.connector;
  const filled = rows * columns - (empty || []).length;
  if (rows && columns && filled !== names.length) {
    odd.push(phrase("grid_count", { rows, columns, filled, count: names.length }));
  }
  if (state.grid && !state.grid.moved) odd.push(phrase("grid_unmoved"));
  if (!state.connector.face) odd.push(phrase("face_unknown"));
  if (!state.connector.pin1) odd.push(phrase("pin1_unknown"));
  return { bad, odd };
}
