/* Drawing the state, and what hands and keys do to it. */
const NS = "http://www.w3.org/2000/svg";
const STEP = 0.5, LONG_STEP = 5;

/* Pixels of the frame in one pixel of the screen. */
function unit() { return WIDE / (board.getBoundingClientRect().width || WIDE); }
function same(one, two) { return Boolean(one && two) && one.what === two.what && one.k === two.k; }
function make(parent, tag, attributes, text) {
  const made = document.createElementNS(NS, tag);
  Object.entries(attributes).forEach(([key, value]) => made.setAttribute(key, value));
  if (text !== undefined) made.textContent = text;
  parent.append(made);
  return made;
}
/* A line seen on dark and on light: a dark one under a light one. */
function twice(parent, tag, attributes, wide, more) {
  [["under", wide + 2.2], ["over", wide]].forEach(([name, width]) => make(parent, tag, {
    ...attributes, class: name + " " + (more || ""), "stroke-width": width, "vector-effect": "non-scaling-stroke" }));
}
function handle(what, k, label) {
  const group = make(overlay, "g", { "data-what": what, "data-k": k, tabindex: 0, role: "button", "aria-label": label });
  if (same(held, { what, k })) group.setAttribute("class", "held");
  return group;
}
function lettered(group, x, y, text, anchor) {
  const made = make(group, "text", { x, y, "text-anchor": anchor || "middle", "stroke-width": 3.2 * unit(), "paint-order": "stroke" }, text);
  made.style.fontSize = 13 * unit() + "px";
}

board.setAttribute("viewBox", `-0.5 -0.5 ${WIDE} ${HIGH}`);
const photo = make(board, "image", { x: -0.5, y: -0.5, width: WIDE, height: HIGH, preserveAspectRatio: "none", href: START.picture });
let overlay = make(board, "g", {});

function greyPicture() {
  const known = VALUES.filter((value) => value !== null).sort((a, b) => a - b);
  const [low, high] = [known[Math.floor(known.length * 0.005)], known[Math.floor((known.length - 1) * 0.995)]];
  const canvas = Object.assign(document.createElement("canvas"), { width: WIDE, height: HIGH });
  const paper = canvas.getContext("2d"), pixels = paper.createImageData(WIDE, HIGH);
  VALUES.forEach((value, k) => {
    const light = value === null ? 0 : Math.max(0, Math.min(1, (value - low) / Math.max(high - low, 0.1))) * 255;
    pixels.data.set([light, light, light, 255], 4 * k);
  });
  paper.putImageData(pixels, 0, 0);
  return canvas.toDataURL("image/png");
}

function draw() {
  const kept = document.activeElement && overlay.contains(document.activeElement);
  const fresh = make(board, "g", {});
  overlay.remove();
  overlay = fresh;
  drawGrid();
  state.areas.forEach(drawArea);
  state.pins.forEach(drawPin);
  if (kept) focusHeld();
}
function drawGrid() {
  if (!state.grid) return;
  const { rows, columns, corners } = state.grid;
  const line = (one, two) => { const [a, b] = [centreOf(state.grid, one), centreOf(state.grid, two)];
    twice(overlay, "line", { x1: a[0], y1: a[1], x2: b[0], y2: b[1] }, 1.1, "lattice"); };
  for (let r = 0; r < rows && columns > 1; r++) line([r, 0], [r, columns - 1]);
  for (let c = 0; c < columns && rows > 1; c++) line([0, c], [rows - 1, c]);
  ends().forEach((end) => {
    const [x, y] = end.at, side = 7 * unit();
    const group = handle(end.what, end.k, end.name);
    make(group, "circle", { cx: x, cy: y, r: 2 * side, class: "hit" });
    const shape = end.what === "corner" ? `M${x} ${y - side}L${x + side} ${y}L${x} ${y + side}L${x - side} ${y}Z`
      : `M${x - side} ${y - side / 3}h${side * 2}v${side * 0.7}h${-side * 2}Z`;
    make(group, "path", { d: shape, class: "grip", "stroke-width": 1.5, "vector-effect": "non-scaling-stroke" });
  });
}
function drawPin(pin, k) {
  if (pin.x == null) return;
  const group = handle("pin", k, phrase("pin", { name: pin.name, x: pin.x.toFixed(1), y: pin.y.toFixed(1), value: told(valueAt(pin.x, pin.y)) }));
  const reach = Math.max(pin.radius, Math.min(14 * unit(), (nearest(state.pins, k) ?? Infinity) / 2));
  make(group, "circle", { cx: pin.x, cy: pin.y, r: reach, class: "hit" });
  const chosen = same(held, { what: "pin", k });
  twice(group, "circle", { cx: pin.x, cy: pin.y, r: pin.radius }, chosen ? 3 : 1.6);
  make(group, "circle", { cx: pin.x, cy: pin.y, r: Math.min(1.8 * unit(), pin.radius / 3), class: "grip", "stroke-width": 1, "vector-effect": "non-scaling-stroke" });
  if (k === 0) { // as on the marked frames, the first pin stands in a square
    const side = pin.radius + 3 * unit();
    twice(group, "rect", { x: pin.x - side, y: pin.y - side, width: 2 * side, height: 2 * side }, 1.6);
  }
  lettered(group, pin.x, pin.y - pin.radius - (k ? 4 : 7) * unit(), pin.name);
}
function drawArea(area, k) {
  const [x, y, wide, high] = area.box;
  const [left, top] = [x - 0.5, y - 0.5];
  const group = handle("area", k, phrase("area", { name: area.name, kind: area.kind }));
  make(group, "rect", { x: left, y: top, width: wide, height: high, class: "hit" });
  twice(group, "rect", { x: left, y: top, width: wide, height: high }, same(held, { what: "area", k }) ? 3 : 1.6);
  const crossed = area.kind === "ignore" ? `M${left} ${top}l${wide} ${high}M${left + wide} ${top}l${-wide} ${high}` : `M${left} ${top + high}l${wide} ${-high}`;
  twice(group, "path", { d: crossed }, 0.8);
  lettered(group, left, top + high + 14 * unit(), area.name + " · " + area.kind, "start");
  const size = handle("size", k, phrase("area_size", { name: area.name }));
  const side = 9 * unit();
  make(size, "rect", { x: left + wide - side / 2, y: top + high - side / 2, width: side, height: side, class: "grip", "stroke-width": 1.5, "vector-effect": "non-scaling-stroke" });
}

/* --- words and fields --------------------------------------------------------------------------------------- */
function show() {
  draw();
  const text = pinsToml(state, START.file);
  byId("text").value = text;
  const { bad, odd } = notYetRight(state, WIDE, HIGH);
  byId("faults").replaceChildren(...[...bad.map((one) => ["bad", phrase("mend", { what: one })]), ...odd.map((one) => ["soft", one])]
    .map(([name, one]) => Object.assign(document.createElement("p"), { className: name, textContent: one })));
  const { face, pin1 } = state.connector;
  const how = pin1 ? phrase("pin1", { how: pin1 }) : phrase("pin1_short");
  byId("facing").textContent = face ? phrase("facing", { face: face[0].toUpperCase() + face.slice(1), pin1: how }) : phrase("facing_unknown", { pin1: how });
  [byId("undo").disabled, byId("redo").disabled] = [!before.length, !after.length];
  fillChosen();
}
function put(id, value) { if (document.activeElement !== byId(id)) byId(id).value = value ?? ""; }
function fillChosen() {
  const pin = held && held.what === "pin" ? state.pins[held.k] : null;
  const area = held && (held.what === "area" || held.what === "size") ? state.areas[held.k] : null;
  [byId("pin-form").hidden, byId("pin-none").hidden, byId("area-form").hidden] = [!pin, Boolean(pin), !area];
  byId("chosen").textContent = "";
  if (pin) {
    put("pin-name", pin.name);
    ["x", "y", "radius"].forEach((key) => put("pin-" + key, pin[key] == null ? "" : rounded(pin[key])));
    byId("back").disabled = Boolean(pin._cell) || !cellFor(pin);
    const mean = pin.x == null ? null : meanOver(pin);
    byId("chosen").textContent = phrase("mean", { name: pin.name, value: told(mean) });
  } else if (area) {
    [["name", area.name], ["kind", area.kind], ["mm", area.at_mm], ["wide", area.box[2]], ["high", area.box[3]]].forEach(([key, value]) => put("area-" + key, value));
    byId("area-pin").replaceChildren(...["", ...state.pins.map((one) => one.name)].map((name) => new Option(name || phrase("none"), name)));
    byId("area-pin").value = area.pin ?? "";
    byId("chosen").textContent = phrase("area_chosen", { name: area.name, kind: area.kind });
  } else if (held) byId("chosen").textContent = thing(held).name;
}
function fillGrid() {
  const { rows, columns, numbering, empty, face, pin1 } = state.connector;
  [["rows", rows], ["columns", columns], ["numbering", numbering || "row"], ["empty", (empty || []).join(", ")], ["face", face], ["pin1", pin1]]
    .forEach(([id, value]) => { byId(id).value = value ?? ""; });
}
function cellFor(pin) {
  if (!state.grid) return null;
  const cells = cellsOf(state.grid.rows, state.grid.columns);
  return cells.length === state.pins.length ? cells[state.pins.indexOf(pin)].cell : null;
}
function focusHeld() {
  const one = held && overlay.querySelector(`[data-what="${held.what}"][data-k="${held.k}"]`);
  if (one) one.focus({ preventScroll: true });
}
/* What is being typed belongs to what was chosen before: it is taken in first. */
function hold(one) {
  if (same(one, held)) return;
  if (document.activeElement && document.activeElement.matches("input, select")) document.activeElement.blur();
  held = one;
  show();
}

/* --- hands -------------------------------------------------------------------------------------------------- */
function spot(event) {
  const frame = board.getBoundingClientRect();
  return [(event.clientX - frame.left) / frame.width * WIDE - 0.5, (event.clientY - frame.top) / frame.height * HIGH - 0.5];
}
function handleOf(target) {
  const group = target.closest && target.closest("[data-what]");
  return group ? { what: group.dataset.what, k: Number(group.dataset.k) } : null;
}
board.addEventListener("pointerdown", (event) => {
  const one = handleOf(event.target);
  if (event.button || !one) { if (!one) hold(null); return; }
  event.preventDefault();
  hold(one);
  focusHeld();
  drag = { one, from: spot(event), moved: false };
  try { board.setPointerCapture(event.pointerId); } catch { /* a pointer that is gone already */ }
});
board.addEventListener("pointermove", (event) => {
  const [x, y] = spot(event);
  byId("under").textContent = `x ${x.toFixed(1)}, y ${y.toFixed(1)}: ${told(valueAt(x, y))}`;
  if (!drag) return;
  const [dx, dy] = [x - drag.from[0], y - drag.from[1]];
  if (!drag.moved && Math.hypot(dx, dy) < 2 * unit()) return;
  if (!drag.moved) remember();
  Object.assign(drag, { moved: true, from: [x, y] });
  move(drag.one, dx, dy);
  show();
});
["pointerup", "pointercancel"].forEach((name) => board.addEventListener(name, () => { drag = null; }));
board.addEventListener("focusin", (event) => { const one = handleOf(event.target); if (one) hold(one); });

/* --- keys --------------------------------------------------------------------------------------------------- */
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
board.addEventListener("keydown", (event) => {
  if (!held || event.ctrlKey || event.metaKey || event.altKey) return;
  const far = event.shiftKey ? LONG_STEP : STEP;
  if (ARROWS[event.key]) change(() => move(held, ARROWS[event.key][0] * far, ARROWS[event.key][1] * far));
  else if (event.key === "+" || event.key === "=") change(() => grow(held, STEP));
  else if (event.key === "-" || event.key === "−") change(() => grow(held, -STEP));
  else if (event.key === "Delete" || event.key === "Backspace") takeOut(held);
  else if (event.key === "Enter" && held.what === "pin") byId("pin-name").focus();
  else if (event.key === "Enter" && state.areas[held.k] && held.what !== "corner" && held.what !== "whole") byId("area-name").focus();
  else return;
  event.preventDefault();
});
document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || !["z", "y"].includes(event.key.toLowerCase())) return;
  if (event.target.matches && event.target.matches("input, textarea")) return; // a field has an undoing of its own
  event.preventDefault();
  if (event.key.toLowerCase() === "y" || event.shiftKey) stepBack(after, before);
  else stepBack(before, after);
});

/* --- fields and buttons ------------------------------------------------------------------------------------- */
function onChange(id, how) {
  byId(id).addEventListener("change", () => { change(() => how(byId(id).value)); });
}
function onClick(id, how) { byId(id).addEventListener("click", how); }
function number(text) { const value = Number(String(text).replace(",", ".")); return String(text).trim() && Number.isFinite(value) ? value : null; }
function whole(text) { const value = number(text); return value !== null && value >= 1 && value <= 64 ? Math.round(value) : undefined; }

function setRadius(list, value) {
  if (state.grid) state.grid.sized = true;
  list.forEach((pin) => { pin.radius = value; });
}

onChange("rows", (text) => { state.connector.rows = whole(text); });
onChange("columns", (text) => { state.connector.columns = whole(text); });
onChange("numbering", (text) => { state.connector.numbering = text; });
onChange("empty", (text) => { state.connector.empty = text.split(/[\s,]+/).filter(Boolean); });
onChange("face", (text) => { state.connector.face = text || undefined; });
onChange("pin1", (text) => { state.connector.pin1 = text.trim(); });
onClick("lay", () => {
  const { rows, columns } = state.connector;
  if (!rows || !columns) { byId("told").textContent = phrase("rows_first"); byId(rows ? "columns" : "rows").focus(); return; }
  change(() => { layGrid(rows, columns); held = null; });
});
onChange("pin-name", (text) => {
  const pin = state.pins[held.k];
  state.areas.filter((area) => area.pin === pin.name).forEach((area) => { area.pin = text.trim(); });
  pin.name = text.trim();
});
["x", "y"].forEach((key, k) => onChange("pin-" + key, (text) => {
  const value = number(text), pin = state.pins[held.k];
  if (value !== null) move(held, k ? 0 : value - pin.x, k ? value - pin.y : 0);
}));
onChange("pin-radius", (text) => { const value = number(text); if (value > 0) setRadius([state.pins[held.k]], value); });
onClick("all-radius", () => change(() => setRadius(state.pins, state.pins[held.k].radius)));
onClick("back", () => change(() => { const pin = state.pins[held.k]; pin._cell = cellFor(pin); onGrid(); }));
onClick("pin-out", () => takeOut(held));
onClick("add-pin", addPin);
onClick("add-area", addArea);
onClick("area-out", () => takeOut(held));
onChange("area-name", (text) => { state.areas[held.k].name = text.trim(); });
onChange("area-kind", (text) => { state.areas[held.k].kind = text; });
onChange("area-pin", (text) => { state.areas[held.k].pin = text || undefined; });
onChange("area-mm", (text) => { const value = number(text); state.areas[held.k].at_mm = value === null || value < 0 ? undefined : value; });
["wide", "high"].forEach((key, k) => onChange("area-" + key, (text) => { const value = number(text); if (value > 0) state.areas[held.k].box[2 + k] = value; }));
onClick("undo", () => stepBack(before, after));
onClick("redo", () => stepBack(after, before));
byId("zoom").addEventListener("change", () => { board.style.width = 100 * Number(byId("zoom").value) + "%"; draw(); });
byId("view").addEventListener("change", () => photo.setAttribute("href", byId("view").value === "grey" ? greyPicture() : START.picture));
onClick("save", () => {
  const link = Object.assign(document.createElement("a"), { download: "pins.toml" });
  link.href = URL.createObjectURL(new Blob([byId("text").value], { type: "application/toml" }));
  link.click();
  changed = false;
  byId("told").textContent = phrase("saved");
});
onClick("copy", async () => {
  const field = byId("text");
  try { await navigator.clipboard.writeText(field.value); } catch { field.select(); document.execCommand("copy"); }
  byId("told").textContent = phrase("copied");
});
window.addEventListener("resize", draw);
window.addEventListener("beforeunload", (event) => { if (changed) event.preventDefault(); });

if (state.pins.length && state.pins.every((pin) => pin.x != null)) gridThrough();
else if (state.connector.rows && state.connector.columns && !state.pins.some((pin) => pin.x != null)) layGrid(state.connector.rows, state.connector.columns);
fillGrid();
show();
