/* The page at work: draws the state, turns drags, keys and fields into changes of it, keeps them for undoing. */
const START = JSON.parse(document.getElementById("start").textContent);
const [WIDE, HIGH] = [START.width, START.height];
const board = document.getElementById("board");
const byId = (id) => document.getElementById(id);
const VALUES = (() => {
  const bytes = Uint8Array.from(atob(START.values.whole), (one) => one.charCodeAt(0));
  const view = new DataView(bytes.buffer);
  return Array.from({ length: WIDE * HIGH }, (_, k) => {
    const whole = view.getInt16(2 * k, true);
    return whole === -32768 ? null : START.values.middle + START.values.step * whole;
  });
})();

let state = { connector: { ...START.connector }, pins: START.pins, areas: START.areas, grid: null };
let held = null; // {what, k} of what is chosen
let drag = null;
let changed = false;
const before = [], after = [];

/* --- temperatures ------------------------------------------------------------------------------------------- */
function valueAt(x, y) {
  const [c, r] = [Math.round(x), Math.round(y)];
  return c < 0 || r < 0 || c >= WIDE || r >= HIGH ? null : VALUES[r * WIDE + c];
}
function told(value) { return value === null ? phrase("no_temperature") : value.toFixed(1) + " " + START.symbol; }
function meanOver(pin) {
  let sum = 0, many = 0;
  for (let r = Math.ceil(pin.y - pin.radius); r <= pin.y + pin.radius; r++) {
    for (let c = Math.ceil(pin.x - pin.radius); c <= pin.x + pin.radius; c++) {
      const value = (c - pin.x) ** 2 + (r - pin.y) ** 2 <= pin.radius ** 2 ? valueAt(c, r) : null;
      if (value !== null) { sum += value; many += 1; }
    }
  }
  return many ? sum / many : null;
}

/* --- changes and their undoing ------------------------------------------------------------------------------ */
function remember() { before.push(JSON.stringify(state)); if (before.length > 300) before.shift(); after.length = 0; changed = true; }
function change(how) { remember(); how(); show(); }
function stepBack(from, to) {
  if (!from.length) return;
  to.push(JSON.stringify(state));
  state = JSON.parse(from.pop());
  if (held && !thing(held)) held = null;
  fillGrid();
  show();
}
function thing(one) {
  if (one.what === "pin") return state.pins[one.k];
  if (one.what === "area" || one.what === "size") return state.areas[one.k];
  return state.grid && ends().find((end) => end.what === one.what && end.k === one.k);
}

/* Radius of a pin as a share of the distance to its neighbour, as `run` takes it, until a person sets one. */
const RADIUS_SHARE = 0.3;

/* --- the grid ----------------------------------------------------------------------------------------------- */
function onGrid() {
  if (!state.grid) return;
  state.pins.filter((pin) => pin._cell).forEach((pin) => { [pin.x, pin.y] = centreOf(state.grid, pin._cell); });
  if (state.grid.sized) return;
  state.pins.forEach((pin, k) => { const far = nearest(state.pins, k); if (pin._cell && far) pin.radius = rounded(RADIUS_SHARE * far); });
}
function typicalRadius() {
  const there = state.pins.filter((pin) => pin.x != null && pin.radius).map((pin) => pin.radius).sort((a, b) => a - b);
  return there.length ? there[Math.floor(there.length / 2)] : Math.max(3, Math.round(WIDE / 60));
}
function cellsOf(rows, columns) {
  const { numbering = "row", empty = [] } = state.connector;
  return placesInOrder(rows, columns, numbering).map((cell, k) => ({ cell, number: String(k + 1) }))
    .filter((place) => !empty.includes(place.number));
}
function cornersFor(rows, columns) {
  const there = state.pins.filter((pin) => pin.x != null);
  let [left, right, top, low] = [WIDE * 0.2, WIDE * 0.8, HIGH * 0.5, HIGH * 0.5];
  if (there.length > 1) {
    [left, right] = [Math.min(...there.map((pin) => pin.x)), Math.max(...there.map((pin) => pin.x))];
    [top, low] = [Math.min(...there.map((pin) => pin.y)), Math.max(...there.map((pin) => pin.y))];
  } else {
    const pitch = Math.min(WIDE * 0.5 / Math.max(1, columns - 1), HIGH * 0.4 / Math.max(1, rows - 1));
    [left, right] = [WIDE / 2 - pitch * (columns - 1) / 2, WIDE / 2 + pitch * (columns - 1) / 2];
    [top, low] = [HIGH / 2 - pitch * (rows - 1) / 2, HIGH / 2 + pitch * (rows - 1) / 2];
  }
  return [[left, top], [right, top], [right, low], [left, low]];
}
function layGrid(rows, columns) {
  const cells = cellsOf(rows, columns);
  const fits = cells.length === state.pins.length;
  const byName = new Map(state.pins.map((pin) => [pin.name, pin]));
  const kept = state.grid && state.grid.rows === rows && state.grid.columns === columns ? state.grid.corners : null;
  const corners = kept || cornersFor(rows, columns);
  const fresh = !state.pins.some((pin) => pin.x != null);
  const own = typicalRadius();
  state.grid = { rows, columns, corners, moved: !fresh, sized: state.grid ? state.grid.sized : state.pins.some((pin) => pin.radius) };
  state.pins = cells.map((place, k) => ({ ...(fits ? state.pins[k] : byName.get(place.number) || { name: place.number }), _cell: place.cell }));
  state.pins.forEach((pin) => { if (!pin.radius) pin.radius = rounded(own); });
  onGrid();
}
/* A grid through pins that have places already; those that lie off it keep their own. */
function gridThrough() {
  const { rows, columns } = state.connector;
  const cells = rows && columns ? cellsOf(rows, columns) : [];
  if (!cells.length || cells.length !== state.pins.length) return;
  const at = (r, c) => { const k = cells.findIndex(({ cell }) => cell[0] === r && cell[1] === c); return k < 0 ? null : [state.pins[k].x, state.pins[k].y]; };
  const corners = [at(0, 0), at(0, columns - 1), at(rows - 1, columns - 1), at(rows - 1, 0)];
  if (corners.includes(null)) return;
  state.grid = { rows, columns, corners, moved: true, sized: true };
  cells.forEach(({ cell }, k) => {
    const [x, y] = centreOf(state.grid, cell);
    if (Math.hypot(x - state.pins[k].x, y - state.pins[k].y) < 1.5) state.pins[k]._cell = cell;
  });
}
/* The handles of the grid: where they are drawn (outside the end pins), and which corners each moves. */
function ends() {
  if (!state.grid) return [];
  const { corners, rows, columns } = state.grid;
  const [cx, cy] = [0, 1].map((k) => corners.reduce((sum, corner) => sum + corner[k], 0) / 4);
  const out = 1.9 * typicalRadius() + 6 * unit();
  const beyond = ([x, y], far) => { const d = Math.hypot(x - cx, y - cy) || 1; return [x + (x - cx) * far / d, y + (y - cy) * far / d]; };
  const inside = ([x, y]) => [Math.min(Math.max(x, 0), WIDE - 1), Math.min(Math.max(y, 0), HIGH - 1)];
  const sets = rows > 1 && columns > 1 ? [[0], [1], [2], [3]] : rows > 1 ? [[0, 1], [2, 3]] : columns > 1 ? [[0, 3], [1, 2]] : [];
  const names = sets.length === 4 ? ["top_left", "top_right", "bottom_right", "bottom_left"] : ["first", "last"];
  const low = corners.reduce((lowest, corner) => (corner[1] > lowest[1] ? corner : lowest));
  const middle = [cx, Math.max(low[1], cy) + out + 8 * unit()];
  return [
    ...sets.map((set, k) => ({ what: "corner", k, set, at: inside(beyond(corners[set[0]], out)), name: phrase("grid_end", { which: phrase(names[k]) }) })),
    { what: "whole", k: 0, set: [0, 1, 2, 3], at: inside(middle), name: phrase("whole_grid") },
  ];
}

/* --- moving and resizing ------------------------------------------------------------------------------------ */
function move(one, dx, dy) {
  if (one.what === "pin") {
    const pin = state.pins[one.k];
    Object.assign(pin, { x: (pin.x ?? WIDE / 2) + dx, y: (pin.y ?? HIGH / 2) + dy });
    delete pin._cell;
  } else if (one.what === "area") {
    const { box } = state.areas[one.k];
    [box[0], box[1]] = [box[0] + dx, box[1] + dy];
  } else if (one.what === "size") {
    const { box } = state.areas[one.k];
    [box[2], box[3]] = [Math.max(1, box[2] + dx), Math.max(1, box[3] + dy)];
  } else {
    const end = thing(one);
    end.set.forEach((k) => { const corner = state.grid.corners[k]; state.grid.corners[k] = [corner[0] + dx, corner[1] + dy]; });
    state.grid.moved = true;
    onGrid();
  }
}
function grow(one, by) {
  if (one.what !== "area" && one.what !== "size" && state.grid) state.grid.sized = true;
  if (one.what === "pin") state.pins[one.k].radius = Math.max(0.5, rounded(state.pins[one.k].radius + by));
  else if (one.what === "area" || one.what === "size") move({ what: "size", k: one.k }, 2 * by, 2 * by);
  else state.pins.forEach((pin) => { pin.radius = Math.max(0.5, rounded(pin.radius + by)); });
}
function takeOut(one) {
  const list = one.what === "pin" ? state.pins : one.what === "area" || one.what === "size" ? state.areas : null;
  if (!list) return;
  change(() => { list.splice(one.k, 1); held = null; });
}
function freeName(list, word) {
  for (let k = 1; ; k++) if (!list.some((one) => one.name === word + k)) return word + k;
}
function addPin() {
  change(() => {
    state.pins.push({ name: freeName(state.pins, ""), x: rounded(WIDE / 2), y: rounded(HIGH / 2), radius: rounded(typicalRadius()) });
    held = { what: "pin", k: state.pins.length - 1 };
  });
  focusHeld();
}
function addArea() {
  change(() => {
    const side = Math.max(4, Math.round(WIDE / 12));
    state.areas.push({ name: freeName(state.areas, "patch "), kind: "ambient", box: [Math.round(WIDE * 0.05), Math.round(HIGH * 0.05), side, side] });
    held = { what: "area", k: state.areas.length - 1 };
  });
  focusHeld();
}
