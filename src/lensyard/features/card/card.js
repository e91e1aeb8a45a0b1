"use strict";
// The card: takes the tables apart, looks answers up, keeps what is tapped. Text that people wrote
// is only ever set as text, never as markup.
(async () => {
  const $ = (id) => document.getElementById(id);
  const LENGTH = 120, WIDTH = 160 / 3, YARDS = 99, LESS = 101, MORE = 102;
  // Sentences come with the card, each with names in braces to be filled.
  const filled = (template, values) => template.replace(/\{(\w+)\}/g, (_, name) => values[name]);

  // ---- the tables ------------------------------------------------------------------------------
  const bytesOf = (id) => {
    const holder = $(id), text = holder.textContent, alphabet = holder.dataset.digits;
    const value = new Map([...alphabet].map((digit, i) => [digit.charCodeAt(0), i]));
    const out = new Uint8Array(Number(holder.dataset.bytes));
    for (let i = 0, o = 0; i < text.length; i += 5, o += 4) {
      let word = 0;
      for (let k = 0; k < 5; k++) word = word * 85 + value.get(text.charCodeAt(i + k));
      for (let k = 0; k < 4 && o + k < out.length; k++)
        out[o + k] = Math.floor(word / 2 ** (24 - 8 * k)) & 255;
    }
    return out;
  };
  const inflated = async (id) => {
    const stream = new Blob([bytesOf(id)]).stream().pipeThrough(new DecompressionStream("deflate"));
    return new Uint8Array(await new Response(stream).arrayBuffer());
  };

  function restored(part, entry, planes, mirror) {
    const { rows, columns, block, prediction, like } = entry;
    const across = entry.are_places;
    if (prediction === "like" || prediction === "opposite") {
      const from = planes[like], turned = prediction === "opposite";
      for (let r = 0, at = 0; r < rows; r++)
        for (let c = 0; c < columns; c++, at++) {
          const seen = from[turned ? r * columns + mirror[c] : at];
          part[at] += turned && across ? mirror[seen] : seen;
        }
    } else if (prediction !== "raw") {
      const folded = prediction === "mirrored";
      for (let r = 0; r < rows; r++) {
        const first = r % block < YARDS, here = r * columns, before = (r - YARDS) * columns;
        for (let c = 0; c < columns; c++) {
          if (folded && mirror[c] < c) part[here + c] += part[here + mirror[c]];
          else if (!first) part[here + c] += part[before + c];
        }
      }
    }
    return part;
  }

  let card;
  const tables = new Map();
  try {
    card = JSON.parse(new TextDecoder().decode(await inflated("facts")));
    const rest = await inflated("tables"), planes = [];
    let start = 0;
    for (const entry of card.planes) {
      const stop = start + entry.rows * entry.columns;
      planes.push(restored(rest.subarray(start, stop), entry, planes, card.mirror));
      tables.set(entry.name, planes[planes.length - 1]);
      start = stop;
    }
  } catch (error) {
    $("failed").hidden = false;
    $("failed").append(` (${error})`);
    return;
  }
  const N = card.places.x_yd.length, HALF = N / 2, LONGEST = card.longest_yd;
  const hasHash = card.hashes.length > 1;

  // ---- what is kept ----------------------------------------------------------------------------
  const KEEP = `lensyard-card:${card.key.slice(0, 16)}`;
  const fresh = () => ({
    direction: "B", yardline: 75, down: 1, distance: 10, hash: "any", changed: false,
    team: "ours", standing: null, quarter: null, theme: "auto", plays: [], ticks: {},
  });
  const whole = (value, low, high, other) =>
    Number.isInteger(value) && value >= low && value <= high ? value : other;
  function kept() {
    const state = fresh();
    try {
      const old = JSON.parse(localStorage.getItem(KEEP) || "{}");
      state.direction = old.direction === "A" ? "A" : "B";
      state.yardline = whole(old.yardline, 1, YARDS, state.yardline);
      state.down = whole(old.down, 1, 4, state.down);
      state.distance = whole(old.distance, 1, LONGEST, Math.min(10, LONGEST));
      state.hash = card.hashes.includes(old.hash) ? old.hash : "any";
      state.changed = old.changed === true;
      state.team = card.teams.includes(old.team) ? old.team : "ours";
      state.standing = whole(old.standing, 0, N - 1, null);
      state.quarter = whole(old.quarter, 1, 5, null);
      const theme = old.theme ?? old.look; // as earlier cards called it
      state.theme = ["light", "dark"].includes(theme) ? theme : "auto";
      if (Array.isArray(old.plays)) state.plays = old.plays;
      if (old.ticks && typeof old.ticks === "object") state.ticks = old.ticks;
    } catch {
      $("unkept").hidden = false;
    }
    return state;
  }
  const state = kept();
  function keep() {
    try {
      localStorage.setItem(KEEP, JSON.stringify(state));
    } catch {
      $("unkept").hidden = false;
    }
  }

  // ---- answers ---------------------------------------------------------------------------------
  const turned = (station) => (state.direction === "A" ? (station + HALF) % N : station);
  const inStadium = (x, y) => (state.direction === "A" ? [LENGTH - x, WIDTH - y] : [x, y]);
  const distance = () => Math.min(state.distance, LONGEST, state.yardline);
  const isFirst = () => state.down === 1 && distance() === Math.min(10, state.yardline);
  const percent = (code) => card.percents[code];
  const share = (code) => (code === LESS ? 0 : code === MORE ? 1 : code / 100);
  const way = () => (card.directions.includes(state.direction) ? state.direction : "B");
  const row = () => ((state.down - 1) * LONGEST + distance() - 1) * YARDS + state.yardline - 1;
  const stations = card.stations;
  const shutBefore = [0];
  for (const mark of stations.shut) shutBefore.push(shutBefore[shutBefore.length - 1] + Number(mark));
  function walk(a, b) {
    if (a === b) return 0;
    const [low, high] = a < b ? [a, b] : [b, a];
    const apart = stations.along_yd[high] - stations.along_yd[low];
    const inside = shutBefore[high] - shutBefore[low];
    const direct = inside === 0 ? apart : Infinity;
    const round = inside === shutBefore[N] ? stations.length_yd - apart : Infinity;
    return Math.min(direct, round);
  }
  const named = (places, position) => (places.label[state.direction] || places.label.B)[position];
  const placeAt = (position) => ({
    x_yd: card.places.x_yd[position], y_yd: card.places.y_yd[position],
    label: named(card.places, position),
  });

  function answer() {
    const name = `${way()}:${state.hash}`, at = row();
    const usable = tables.get(`usable:${name}`);
    if (state.standing === null) {
      const best = tables.get(`best:${name}`), low = best[at * 3], high = best[at * 3 + 1];
      const index = low + 256 * high;
      if (index === card.no_spot) return { none: true, usable, at };
      const place = {
        x_yd: card.fine.x_yd[index], y_yd: card.fine.y_yd[index], label: named(card.fine, index),
      };
      return { place, code: best[at * 3 + 2], usable, at, near: nearest(...inStadium(place.x_yd, place.y_yd)) };
    }
    const own = state.team === "ours" ? name : `${way()}:any`;
    const here = turned(state.standing);
    const long = state.changed && isFirst();
    const go = long
      ? tables.get(`far:${own}:${state.team}`)[(state.yardline - 1) * N + here]
      : tables.get(`choice:${own}:${state.team}`)[at * N + here];
    const near = turned(go);
    return {
      place: placeAt(go), code: usable[at * N + go], stay: usable[at * N + here], usable, at, near,
      stays: go === here, walk_yd: walk(state.standing, near),
    };
  }
  function nearest(x, y, mayWait) {
    let found = null, least = Infinity;
    for (let i = 0; i < N; i++) {
      if (mayWait && stations.wait[i] !== "1") continue;
      const away = Math.hypot(stations.x_yd[i] - x, stations.y_yd[i] - y);
      if (away < least) [found, least] = [i, away];
    }
    return found;
  }

  // ---- words -----------------------------------------------------------------------------------
  const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);
  const ballCode = (yardline) => card.balls[yardline - 1];
  const ballText = (yardline) => ballCode(yardline).replace(/^(own|opp)/, "$1 ");
  function situationText() {
    const goal = distance() === state.yardline;
    const more = distance() === LONGEST && !goal ? "+" : "";
    return `${["1st", "2nd", "3rd", "4th"][state.down - 1]} & ${goal ? "goal" : distance() + more}, ${ballText(state.yardline)}`;
  }
  function sideName(place) {
    const [x, y] = inStadium(place.x_yd, place.y_yd);
    const names = [];
    if (y < 0 || y > WIDTH) names.push(card.sidelines[y < 0 ? 0 : 1]);
    if (x < 0 || x > LENGTH) names.push(card.ends[x < 0 ? 0 : 1]);
    return names.join(", ");
  }
  function say(found) {
    const { words } = card;
    $("situation").textContent = situationText();
    $("toward").textContent = `toward ${card.ends[state.direction === "A" ? 0 : 1]}`;
    if (found.none) {
      $("go").textContent = capital(words.nothing);
      $("where").textContent = capital(words.no_spot);
      $("p").textContent = percent(0);
      $("why").textContent = `${capital(words.instead)}.`;
      return;
    }
    const yards = found.walk_yd === undefined ? null : Math.round(found.walk_yd);
    const seconds = Math.round(found.walk_yd * card.walk_s_per_yd);
    $("go").textContent = capital(
      yards === null ? words.best : found.stays ? words.stay : filled(words.walk, { yards, seconds }),
    );
    $("where").textContent = capital(found.place.label);
    $("p").textContent = percent(found.code);
    const position = turned(found.near), parts = [sideName(found.place)];
    if (found.walk_yd !== undefined && !found.stays) {
      const staying = filled(words.staying, { usable: percent(found.stay) });
      const later = share(found.stay) >= share(found.code);
      parts.push(later ? `${staying}, ${words.for_later}` : staying);
    }
    if (card.lenses.length > 1)
      parts.push(`lens ${card.lenses[tables.get(`lens:${way()}`)[found.at * N + position]]}`);
    const out = tables.get(`exposure:${way()}`)[found.at * N + position];
    parts.push(filled(words.run_out, { run_out: percent(out) }));
    $("why").textContent = capital(parts.filter(Boolean).join(" · "));
  }
  function expect(at) {
    const o = tables.get("outcome").subarray(at * 6, at * 6 + 6), off = card.gain_offset_yd;
    const yards = (v) => (v - off < 0 ? `−${off - v}` : `${v - off}`);
    const gain = filled(card.words.gain, { low: yards(o[0]), high: yards(o[2]), middle: yards(o[1]) });
    const chances = { passes: percent(o[5]), first_down: percent(o[4]), touchdown: percent(o[3]) };
    $("expect").textContent = `${capital(gain)} · ${filled(card.words.chances, chances)}`;
  }

  // ---- the picture -----------------------------------------------------------------------------
  const svg = document.querySelector("#picture svg");
  const layer = svg.querySelector("[data-affine]");
  const [xa, xb, xc, ya, yb, yc] = layer.dataset.affine.split(" ").map(Number);
  const under = xa * yb - xb * ya;
  const pixel = (x, y) => [
    (yb * (x - xc) - xb * (y - yc)) / under, (xa * (y - yc) - ya * (x - xc)) / under,
  ];
  const dots = [...layer.querySelectorAll("[data-station]")];
  for (const dot of dots) dot.setAttribute("r", 3.2);
  const over = svg.appendChild(document.createElementNS(svg.namespaceURI, "g"));
  over.setAttribute("pointer-events", "none");
  function draw(kind, values) {
    const made = document.createElementNS(svg.namespaceURI, kind);
    for (const [name, value] of Object.entries(values)) made.setAttribute(name, value);
    over.appendChild(made);
  }
  function line(x1, y1, x2, y2, values) {
    const [a, b] = pixel(x1, y1), [c, d] = pixel(x2, y2);
    draw("line", { x1: a, y1: b, x2: c, y2: d, ...values });
  }
  function picture(found) {
    over.replaceChildren();
    const spots = card.open[way()];
    let most = 1;
    for (let q = 0; q < N; q++) most = Math.max(most, 100 * share(found.usable[found.at * N + q]));
    dots.forEach((dot, station) => {
      const q = turned(station), here = 100 * share(found.usable[found.at * N + q]);
      const open = spots[q] === "1";
      dot.setAttribute("fill", open ? "var(--accent)" : "none");
      dot.setAttribute("fill-opacity", open ? (0.06 + 0.94 * (here / most) ** 1.5).toFixed(3) : 0);
    });
    const [ballX, ballY] = inStadium(110 - state.yardline, card.hash_y_yd[state.hash]);
    const forward = state.direction === "A" ? -1 : 1;
    const gain = ballX + forward * distance();
    line(ballX, 0, ballX, WIDTH, { stroke: "var(--band-edge)", "stroke-width": 2.5 });
    line(gain, 0, gain, WIDTH, { stroke: "var(--band-edge)", "stroke-width": 2.5, "stroke-dasharray": "5 4" });
    const [bx, by] = pixel(ballX, ballY);
    draw("path", {
      d: `M${bx + forward * 9} ${by - 7}l${forward * 13} 7l${-forward * 13} 7z`,
      fill: "var(--band-edge)", stroke: "var(--halo)", "stroke-width": 1,
    });
    draw("ellipse", { cx: bx, cy: by, rx: 7, ry: 4.5, fill: "var(--ink)", stroke: "var(--halo)", "stroke-width": 1.5 });
    if (found.walk_yd > 0 && Number.isFinite(found.walk_yd)) path(found.near);
    if (state.standing !== null) {
      const [sx, sy] = pixel(stations.x_yd[state.standing], stations.y_yd[state.standing]);
      draw("rect", { x: sx - 6, y: sy - 6, width: 12, height: 12, fill: "var(--paper)", stroke: "var(--ink)", "stroke-width": 3 });
    }
    if (!found.none) {
      const [gx, gy] = pixel(...inStadium(found.place.x_yd, found.place.y_yd));
      draw("circle", { cx: gx, cy: gy, r: 8.5, fill: "var(--accent)", stroke: "var(--halo)", "stroke-width": 2.5 });
      draw("circle", { cx: gx, cy: gy, r: 2.5, fill: "var(--on-accent)" });
    }
  }
  function path(goal) {
    const from = state.standing, up = (goal - from + N) % N, apart = stations.along_yd[goal] - stations.along_yd[from];
    const upward = Math.abs(((apart + stations.length_yd) % stations.length_yd) - walk(from, goal)) < 1e-3;
    const steps = upward ? up : N - up, points = [];
    for (let i = 0; i <= steps; i++) {
      const s = (from + (upward ? i : -i) + N) % N;
      points.push(pixel(stations.x_yd[s], stations.y_yd[s]).map((v) => v.toFixed(1)).join(","));
    }
    draw("polyline", { points: points.join(" "), fill: "none", stroke: "var(--halo)", "stroke-width": 6 });
    draw("polyline", { points: points.join(" "), fill: "none", stroke: "var(--accent)", "stroke-width": 3, "stroke-dasharray": "6 4" });
  }
  svg.addEventListener("click", (event) => {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    const x = xa * at.x + xb * at.y + xc, y = ya * at.x + yb * at.y + yc;
    if (y < 4 || y > WIDTH - 4 || x < 3 || x > LENGTH - 3) state.standing = nearest(x, y, true);
    else {
      const along = Math.min(109, Math.max(11, Math.round(x)));
      state.yardline = state.direction === "A" ? along - 10 : 110 - along;
    }
    show();
  });

  // ---- controls --------------------------------------------------------------------------------
  function choices(id, options, picked, pick, cls) {
    const holder = $(id);
    holder.className = cls || "row";
    const buttons = options.map(([value, words, label]) => {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = words;
      button.dataset.value = String(value);
      if (label) button.setAttribute("aria-label", label);
      button.addEventListener("click", () => { pick(value); show(); });
      holder.appendChild(button);
      return [button, value];
    });
    return () => {
      for (const [button, value] of buttons) button.setAttribute("aria-pressed", String(value === picked()));
    };
  }
  const setDistance = (value) => { state.distance = whole(value, 1, LONGEST, state.distance); };
  const distances = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 15, 20].filter((d) => d <= LONGEST);
  const pressed = [
    choices("direction", [["A", `◀ ${card.ends[0]}`], ["B", `${card.ends[1]} ▶`]],
      () => state.direction, (v) => { state.direction = v; }),
    choices("down", [[1, "1st"], [2, "2nd"], [3, "3rd"], [4, "4th"]], () => state.down, (v) => {
      if (v === 1 && state.down !== 1) state.distance = Math.min(10, LONGEST);
      if (v !== 1) state.changed = false;
      state.down = v;
    }),
    choices("distance", [...distances.map((d) => [d, d === LONGEST ? `${d}+` : `${d}`, `${d} yards to go`]),
      [-1, "−", "a yard less"], [-2, "+", "a yard more"]],
      () => distance(), (v) => setDistance(v === -1 ? distance() - 1 : v === -2 ? distance() + 1 : v), "grid7"),
    choices("quarter", [[1, "1"], [2, "2"], [3, "3"], [4, "4"], [5, "OT"]], () => state.quarter,
      (v) => { state.quarter = state.quarter === v ? null : v; }),
    choices("theme", [["auto", "Auto"], ["light", "Light"], ["dark", "Dark"]], () => state.theme,
      (v) => { state.theme = v; }),
  ];
  $("hash-part").hidden = !hasHash;
  if (hasHash) {
    const words = { left: "Left", any: "Not said", middle: "Middle", right: "Right" };
    const order = ["left", "middle", "right", "any"].filter((name) => card.hashes.includes(name));
    pressed.push(choices("hash", order.map((name) => [name, words[name]]), () => state.hash, (v) => { state.hash = v; }));
  }
  $("team-part").hidden = card.teams.length < 2;
  if (card.teams.length > 1)
    pressed.push(choices("team", [["ours", `The ${card.coverage} team`], ["theirs", "The other team"]],
      () => state.team, (v) => { state.team = v; }));

  // The slider runs along the field as the picture shows it: end A on the left.
  const slider = $("ball");
  const along = () => (state.direction === "A" ? state.yardline : 100 - state.yardline);
  const setAlong = (value) => {
    const at = whole(value, 1, YARDS, along());
    state.yardline = state.direction === "A" ? at : 100 - at;
  };
  slider.addEventListener("input", () => { setAlong(Number(slider.value)); show(); });
  $("ball-less").addEventListener("click", () => { setAlong(along() - 1); show(); });
  $("ball-more").addEventListener("click", () => { setAlong(along() + 1); show(); });
  const step = (by) => {
    let s = state.standing ?? answer().near ?? 0;
    do s = (s + by + N) % N; while (stations.wait[s] !== "1");
    state.standing = s;
    show();
  };
  $("stand-back").addEventListener("click", () => step(-1));
  $("stand-on").addEventListener("click", () => step(1));
  $("stand-clear").addEventListener("click", () => { state.standing = null; show(); });
  $("changed").addEventListener("click", () => {
    if (state.changed) state.changed = false;
    else {
      // The same place from the other side: first and ten the other way.
      state.direction = state.direction === "A" ? "B" : "A";
      state.yardline = 100 - state.yardline;
      [state.down, state.distance, state.changed] = [1, Math.min(10, LONGEST), true];
      if (card.teams.length > 1) state.team = state.team === "ours" ? "theirs" : "ours";
    }
    show();
  });

  // ---- the log ---------------------------------------------------------------------------------
  let fading;
  function toast(text) {
    $("toast").textContent = text;
    $("toast").hidden = false;
    clearTimeout(fading);
    fading = setTimeout(() => { $("toast").hidden = true; }, 1800);
  }
  function note(went) {
    const found = answer(), here = state.standing === null ? null : placeAt(turned(state.standing));
    const place = found.none ? null : found.place;
    const gone = went === "there" ? place : went === "stayed" ? here : null;
    state.plays.push({
      at: new Date().toISOString(), quarter: state.quarter, direction: state.direction,
      down: state.down, distance_yd: distance(), ball: ballCode(state.yardline),
      yardline_100: state.yardline, hash: state.hash === "any" ? "middle" : state.hash,
      hash_known: state.hash !== "any", ball_changed_hands: state.changed && isFirst(),
      standing: here, went: gone,
      answer: place && { ...place, p_usable: share(found.code), walk_yd: here && Number.isFinite(found.walk_yd) ? Number(found.walk_yd.toFixed(1)) : null },
    });
    if (went === "there" && !found.none) state.standing = found.near;
    state.changed = false;
    toast(`Play ${state.plays.length} noted`);
    show();
  }
  $("went").addEventListener("click", () => note("there"));
  $("stayed").addEventListener("click", () => note("stayed"));
  $("noted").addEventListener("click", () => note(null));
  function logDocument() {
    return {
      format: "lensyard-card-export", version: 1, exported_at: new Date().toISOString(),
      card: {
        key: card.key, model: card.model, venue: card.venue, rules: card.rules, kit: card.kit,
        assignment: card.assignment, ends: card.ends,
      },
      plays: state.plays,
      ticks: Object.entries(state.ticks).map(([frame, at]) => ({ frame, at })),
    };
  }
  $("save").addEventListener("click", () => {
    const text = JSON.stringify(logDocument(), null, 1);
    $("text").value = text;
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([text], { type: "application/json" }));
    link.download = `lensyard-log-${new Date().toISOString().slice(0, 16).replace(/\D/g, "")}.json`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  });
  $("undo").addEventListener("click", () => { state.plays.pop(); show(); });
  let sure = false;
  $("new-game").addEventListener("click", () => {
    sure = !sure;
    if (!sure) {
      const { theme } = state;
      Object.assign(state, fresh(), { theme });
      toast("A new game: log and ticks are empty");
    }
    show();
  });
  function log() {
    const list = $("log");
    list.replaceChildren();
    state.plays.slice(-30).reverse().forEach((play) => {
      const item = document.createElement("li"), said = play.answer;
      const went = play.went ? (said && play.went.label === said.label ? "went there" : "stayed") : "only noted";
      item.textContent = `${String(play.at).slice(11, 16)} UTC · ${play.down} & ${play.distance_yd} at ${play.ball}: ` +
        (said ? `${said.label} (${Math.round(100 * said.p_usable)}%), ${went}` : "no spot");
      list.appendChild(item);
    });
    $("log-empty").hidden = state.plays.length > 0;
    $("undo").disabled = !state.plays.length;
    $("new-game").textContent = sure ? "Tap again to empty everything" : "New game";
  }

  // ---- the shot list ---------------------------------------------------------------------------
  const boxes = card.frames.map((frame) => {
    const label = document.createElement("label"), box = document.createElement("input");
    label.className = "shot";
    box.type = "checkbox";
    box.dataset.frame = frame.key;
    const words = document.createElement("span"), title = document.createElement("b"), soft = document.createElement("span");
    title.textContent = frame.title;
    soft.className = "soft";
    soft.textContent = frame.about;
    words.append(title, soft);
    label.append(box, words);
    box.addEventListener("change", () => {
      if (box.checked) state.ticks[frame.key] = new Date().toISOString();
      else delete state.ticks[frame.key];
      show();
    });
    $(frame.kind === "action" ? "action" : "life").appendChild(label);
    return box;
  });
  $("action-part").hidden = !card.frames.some((f) => f.kind === "action");
  $("life-part").hidden = !card.frames.some((f) => f.kind === "life");
  $("no-frames").hidden = card.frames.length > 0;

  // ---- the page --------------------------------------------------------------------------------
  function named(tag, name, text) {
    const [first, second] = tag.map((kind) => document.createElement(kind));
    first.textContent = name;
    second.textContent = text;
    return [first, second];
  }
  function facts() {
    for (const [name, text] of card.facts) $("facts-list").append(...named(["dt", "dd"], name, text));
    if (card.light) light();
    for (const text of card.cautions) {
      const item = document.createElement("li");
      item.textContent = text;
      $("cautions").appendChild(item);
    }
  }
  function light() {
    $("light-part").hidden = false;
    $("light-when").textContent = card.light.when;
    $("light-note").textContent = card.light.note;
    for (const [when, seen] of card.light.lines) {
      const item = document.createElement("p");
      item.className = "lit";
      item.append(...named(["b", "span"], when, seen));
      $("light").appendChild(item);
    }
  }
  const pages = ["play", "shots", "more"];
  function open(page) {
    for (const name of pages) {
      $(`page-${name}`).hidden = name !== page;
      $(`to-${name}`).setAttribute("aria-current", name === page ? "page" : "false");
    }
    scrollTo(0, 0);
  }
  for (const name of pages) $(`to-${name}`).addEventListener("click", () => open(name));

  function show() {
    if (!isFirst()) state.changed = false;
    const found = answer();
    say(found);
    expect(found.at);
    picture(found);
    for (const mark of pressed) mark();
    slider.value = String(along());
    slider.setAttribute("aria-valuetext", ballText(state.yardline));
    $("ball-text").textContent = ballText(state.yardline);
    $("distance-text").textContent = distance() === state.yardline ? "goal" : `${distance()}${distance() === LONGEST ? "+" : ""}`;
    $("stand-text").textContent = state.standing === null ? "not said" : named(card.places, turned(state.standing));
    $("stand-clear").disabled = $("stayed").disabled = state.standing === null;
    $("changed").setAttribute("aria-pressed", String(state.changed));
    const ticked = card.frames.filter((f) => state.ticks[f.key]).length;
    for (const box of boxes) box.checked = Boolean(state.ticks[box.dataset.frame]);
    $("to-shots").textContent = card.frames.length ? `Shots ${ticked}/${card.frames.length}` : "Shots";
    if (state.theme === "auto") delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = state.theme;
    log();
    keep();
  }
  facts();
  show();
  open("play");
  document.documentElement.dataset.ready = "1";
})();
