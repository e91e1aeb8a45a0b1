// The field component: draws the picture it is given, turns taps and keys into what they mean.
//
// It sends one event, "tap": {kind: "ball", yardline_100, hash} or {kind: "stand", station}.
// One tab stop; arrow keys move an aim by five yards (with Shift by one), Enter sets it.

const SVG = "http://www.w3.org/2000/svg";
const NARROW_BELOW_PX = 620;
const LOST = "The server does not answer: this tap was not taken. The drawing is its last answer.";
const KEYS = "Arrow keys move the aim by five yards, with Shift by one; Enter sets it.";

export default function (component) {
  const { data: [data], parentElement, setTriggerValue } = component;
  const root = parentElement.querySelector(".field");
  const view = root._view || (root._view = build(root));
  view.data = data;
  view.send = (tap) => setTriggerValue("tap", tap);
  root.classList.remove("waiting");
  for (const [name, color] of Object.entries(data.colors)) {
    root.style.setProperty(`--${name}`, color);
  }
  view.drawing.setAttribute("aria-label", data.tappable ? `${data.said} ${KEYS}` : data.said);
  view.drawing.setAttribute("role", data.tappable ? "application" : "img");
  // The page also draws anew when it loses its server; then the tap is still not taken.
  const lost = view.hint.classList.contains("lost");
  if (connected()) clearTimeout(view.lost);
  view.aim = null;
  draw(view, true);
  if (lost) tellLost(view);
}

function build(root) {
  const drawing = document.createElement("div");
  drawing.className = "drawing";
  drawing.tabIndex = 0;
  drawing.setAttribute("role", "application");
  drawing.setAttribute("aria-roledescription", "football field");
  const hint = document.createElement("p");
  hint.className = "hint";
  hint.setAttribute("aria-hidden", "true");
  const said = document.createElement("p");
  said.className = "said";
  said.setAttribute("aria-live", "polite");
  root.append(drawing, hint, said);
  const view = { root, drawing, hint, said, data: null, aim: null, narrow: null };
  // A finger that rests or slides shows where it aims; lifting it takes that.
  let down = false;
  drawing.addEventListener("pointerdown", (event) => {
    down = event.isPrimary;
    show(view, target(view, event));
  });
  drawing.addEventListener("pointermove", (event) => {
    if (down || event.pointerType === "mouse") show(view, target(view, event));
  });
  drawing.addEventListener("pointerup", (event) => {
    if (down) set(view, target(view, event));
    down = false;
  });
  for (const kind of ["pointerleave", "pointercancel"])
    drawing.addEventListener(kind, () => {
      if (kind === "pointercancel" || down) show(view, null);
      else if (!view.root.classList.contains("waiting")) show(view, null);
      down = false;
    });
  drawing.addEventListener("blur", () => show(view, null));
  drawing.addEventListener("keydown", (event) => press(view, event));
  new ResizeObserver(() => view.data && draw(view, false)).observe(root);
  return view;
}

function draw(view, anew) {
  const narrow = view.root.clientWidth < NARROW_BELOW_PX;
  if (!anew && narrow === view.narrow) return;
  view.narrow = narrow;
  view.root.classList.toggle("narrow", narrow);
  view.drawing.innerHTML = narrow ? view.data.narrow : view.data.lying;
  view.svg = view.drawing.querySelector("svg");
  // The drawing is told in the label of the one tab stop.
  view.svg.setAttribute("aria-hidden", "true");
  for (const spot of view.svg.querySelectorAll("[tabindex]")) spot.removeAttribute("tabindex");
  // Only what can be tapped says where its yards lie.
  const layer = view.svg.querySelector("[data-affine]");
  view.affine = layer && layer.dataset.affine.split(" ").map(Number);
  show(view, view.aim);
}

// From the screen to yards in the play frame, and back to the drawing's own units.
function yards(view, event) {
  const at = new DOMPoint(event.clientX, event.clientY)
    .matrixTransform(view.svg.getScreenCTM().inverse());
  const [a, b, c, d, e, f] = view.affine;
  return [a * at.x + b * at.y + c, d * at.x + e * at.y + f];
}

function place(view, [x, y]) {
  const [a, b, c, d, e, f] = view.affine;
  const under = a * e - b * d;
  return [(e * (x - c) - b * (y - f)) / under, (a * (y - f) - d * (x - c)) / under];
}

// What a place stands for: the ball's yard line and hash mark, or the nearest station.
function snapped(view, [x, y]) {
  const [length, width] = view.data.field_yd;
  const inside = view.data.takes !== "stands" && x >= 0 && x <= length && y >= 0 && y <= width;
  return inside ? ball(view, x, y) : station(view, nearest(view, [x, y]));
}

function ball(view, x, y) {
  const { field_yd: [length, width], hash_y_yd: lanes, middle_lane_yd: half } = view.data;
  const goal = length - 10;
  const least = view.data.takes === "logs" ? 0 : 1;
  const yardline = Math.min(Math.max(Math.round(goal - x), least), 100 - least);
  const off = y - width / 2;
  const hash = Math.abs(off) <= half ? "middle" : off > 0 ? "left" : "right";
  const words = yardline === 50 ? "the 50" : yardline === 0 ? "the opponent's goal line"
    : yardline === 100 ? "its own goal line"
    : yardline < 50 ? `the opponent's ${yardline}` : `its own ${100 - yardline}`;
  return {
    at: [goal - yardline, lanes[hash]],
    tap: { kind: "ball", yardline_100: yardline, hash },
    words: `Ball on ${words}, ${hash === "middle" ? "middle of the field" : `${hash} hash`}`,
  };
}

function station(view, index) {
  const [x, y, label] = view.data.stations[index];
  return { at: [x, y], tap: { kind: "stand", station: index }, words: `Stand: ${label}` };
}

function nearest(view, [x, y]) {
  let best = 0;
  let least = Infinity;
  view.data.stations.forEach(([sx, sy], i) => {
    const away = Math.hypot(sx - x, sy - y);
    if (away < least) [best, least] = [i, away];
  });
  return best;
}

function target(view, event) {
  if (!view.affine) return null;
  const spot = event.target.closest && event.target.closest('[data-role="spot"]');
  const at = spot ? [Number(spot.dataset.xYd), Number(spot.dataset.yYd)] : yards(view, event);
  return snapped(view, at);
}

function set(view, aim) {
  if (!aim || !view.data.tappable) return;
  show(view, aim);
  view.root.classList.add("waiting");
  view.said.textContent = aim.words;
  // A tap that changes nothing brings no new drawing.
  setTimeout(() => view.root.classList.remove("waiting"), 2000);
  clearTimeout(view.lost);
  view.lost = setTimeout(() => tellLost(view), 2500);
  view.send(aim.tap);
}

// The page says on itself whether it still reaches its server.
function connected() {
  const state = document.querySelector(".stApp")?.dataset.testConnectionState;
  return !state || state === "CONNECTED";
}

function tellLost(view) {
  if (connected()) return;
  view.hint.textContent = LOST;
  view.said.textContent = LOST;
  view.hint.classList.add("lost");
}

// The aim: a ring with a cross at the snapped place, and its words under the field.
function show(view, aim) {
  if (aim && !view.data.tappable) return;
  view.aim = aim;
  view.svg.querySelector(".aim")?.remove();
  view.hint.textContent = aim ? aim.words : view.data.hint;
  view.hint.classList.remove("lost");
  if (!aim) return;
  const [px, py] = place(view, aim.at);
  const mark = document.createElementNS(SVG, "g");
  mark.setAttribute("class", "aim");
  const { ink, halo } = view.data.colors;
  for (const [color, wide] of [[halo, 5], [ink, 2]]) {
    const ring = document.createElementNS(SVG, "path");
    ring.setAttribute("d", `M${px - 9} ${py}a9 9 0 1 0 18 0a9 9 0 1 0 -18 0` +
      `M${px - 15} ${py}h8M${px + 7} ${py}h8M${px} ${py - 15}v8M${px} ${py + 7}v8`);
    ring.setAttribute("fill", "none");
    ring.setAttribute("stroke", color);
    ring.setAttribute("stroke-width", wide);
    mark.append(ring);
  }
  view.svg.append(mark);
}

const STEPS = { ArrowUp: [0, -1], ArrowDown: [0, 1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] };

function press(view, event) {
  if (event.key === "Enter" || event.key === " ") {
    event.preventDefault();
    if (view.aim) set(view, view.aim);
    return;
  }
  if (event.key === "Escape") return show(view, null);
  const step = STEPS[event.key];
  if (!step) return;
  if (!view.affine) return;
  event.preventDefault();
  const [length, width] = view.data.field_yd;
  const aim = view.aim || snapped(view, view.data.ball_yd || [length / 2, width / 2]);
  // The step in yards of the play frame, whichever way the field lies.
  const [a, b, , d, e] = view.affine;
  const scale = Math.hypot(a, b);
  const way = [(a * step[0] + b * step[1]) / scale, (d * step[0] + e * step[1]) / scale];
  const far = event.shiftKey ? 1 : 5;
  show(view, aim.tap.kind === "ball" ? fromBall(view, aim, way, far)
    : fromStation(view, aim, way, far));
  view.said.textContent = view.aim.words;
}

// Along the field by yards; across it from lane to lane, then onto the strip.
function fromBall(view, aim, [along, across], far) {
  const [x, y] = aim.at;
  const [length, width] = view.data.field_yd;
  if (Math.abs(along) > 0.5) {
    const to = x + Math.sign(along) * far;
    const edge = Math.min(Math.max(to, 11), length - 11);
    const beyond = along > 0 ? length + 4 : -4;
    return edge === x ? station(view, nearest(view, [beyond, y])) : ball(view, edge, y);
  }
  const lanes = Object.values(view.data.hash_y_yd).sort((one, other) => one - other);
  const next = lanes.findIndex((lane) => Math.abs(lane - y) < 1e-6) + Math.sign(across);
  if (next >= 0 && next < lanes.length) return ball(view, x, lanes[next]);
  return station(view, nearest(view, [x, across > 0 ? width + 4 : -4]));
}

// Along the strip from station to station; inward back onto the field.
function fromStation(view, aim, [along, across], far) {
  const { stations, field_yd: [length, width] } = view.data;
  const [x, y] = aim.at;
  const inward = (y > width && across < -0.5) || (y < 0 && across > 0.5)
    || (x > length && along < -0.5) || (x < 0 && along > 0.5);
  const ahead = [x + along * far * 1.01, y + across * far * 1.01];
  const index = nearest(view, ahead);
  const moved = (stations[index][0] - x) * along + (stations[index][1] - y) * across;
  if (moved > 0.3) return station(view, index);
  const edge = Math.min(Math.max(x, 11), length - 11);
  return inward ? ball(view, edge, Math.min(Math.max(y, 1), width - 1)) : aim;
}
