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
  const RULES = card.game_rules;
  const opening = () => ({
    offense: "home", direction: 1, phase: "scrimmage", yardline_100: 75, down: 1, distance_yd: 10,
    home_points: 0, away_points: 0, quarter: 1, clock_s: null, changed_hands: false,
    opened_by: "away", period: 0, turn: 0, first: null,
  });
  // `game` is the game before the next play; direction, yardline, down, distance, changed and team
  // are the snap that answers are shown for. `logs`: whether a tap on the field logs a play.
  const fresh = () => ({
    game: opening(), past: [], logs: false, hash: "any", standing: null, theme: "auto",
    hurry: false, plays: [], ticks: {}, since: new Date().toISOString(), undone: [], unticked: {},
  });
  const whole = (value, low, high, other) =>
    Number.isInteger(value) && value >= low && value <= high ? value : other;
  const isGame = (g) => Boolean(g) && ["scrimmage", "kickoff", "try", "over"].includes(g.phase) &&
    whole(g.yardline_100, 1, YARDS, 0) > 0 && whole(g.quarter, 1, 5, 0) > 0 &&
    (g.phase !== "scrimmage" || (whole(g.down, 1, 4, 0) > 0 && whole(g.distance_yd, 1, YARDS, 0) > 0));
  // Whatever was stored, it is an object; what is no play of this card is left out.
  function understood(text) {
    try {
      const found = JSON.parse(text);
      return found && typeof found === "object" ? found : {};
    } catch {
      return {};
    }
  }
  const isPlay = (one) => Boolean(one) && typeof one.at === "string" && Number.isFinite(Date.parse(one.at)) &&
    ["A", "B"].includes(one.direction) && typeof one.ball === "string" &&
    whole(one.yardline_100, 1, YARDS, 0) > 0 && whole(one.quarter, 1, 5, 0) > 0;
  // What two tabs of one card share: plays, ticks, when this game's log was begun.
  const stamps = (found) => Object.fromEntries(
    Object.entries(found && typeof found === "object" ? found : {}).filter(([, at]) => typeof at === "string"),
  );
  const shared = (old) => ({
    plays: Array.isArray(old.plays) ? old.plays.filter(isPlay) : [],
    undone: Array.isArray(old.undone) ? old.undone.filter((at) => typeof at === "string") : [],
    ticks: stamps(old.ticks), unticked: stamps(old.unticked),
    since: typeof old.since === "string" ? old.since : "",
  });
  function kept() {
    const state = fresh();
    try {
      const old = understood(localStorage.getItem(KEEP));
      if (isGame(old.game)) state.game = { ...state.game, ...old.game };
      if (!Number.isFinite(state.game.clock_s)) state.game.clock_s = null;
      if (Array.isArray(old.past) && old.past.every((one) => isGame(one?.game))) state.past = old.past;
      state.logs = old.logs === true;
      state.hurry = old.hurry === true;
      state.hash = card.hashes.includes(old.hash) ? old.hash : "any";
      state.standing = whole(old.standing, 0, N - 1, null);
      const theme = old.theme ?? old.look; // as earlier cards called it
      state.theme = ["light", "dark"].includes(theme) ? theme : "auto";
      Object.assign(state, shared(old));
    } catch {
      $("unkept").hidden = false;
    }
    return state;
  }
  const state = kept();
  // Another tab may have written meanwhile: no play of either is lost. The game goes on from the
  // tab that logged last; an emptied log wins over the one before it.
  let written = null;
  const lastAt = (one) => one.plays.reduce((last, play) => (play.at > last ? play.at : last), "");
  function merge(old) {
    const other = shared(old);
    if (other.since < state.since) return;
    const newer = other.since > state.since;
    if ((newer || lastAt(other) > lastAt(state) || other.undone.length > state.undone.length) && isGame(old.game)) {
      state.game = old.game;
      state.past = Array.isArray(old.past) ? old.past.filter((one) => isGame(one?.game)) : [];
    }
    if (newer) return void Object.assign(state, other);
    state.undone = [...new Set([...state.undone, ...other.undone])];
    const plays = new Map([...other.plays, ...state.plays].map((play) => [play.at, play]));
    for (const at of state.undone) plays.delete(at);
    state.plays = [...plays.values()].sort((a, b) => (a.at < b.at ? -1 : 1));
    const ticks = {}, unticked = {};
    for (const [into, name] of [[ticks, "ticks"], [unticked, "unticked"]])
      for (const from of [other, state])
        for (const [frame, at] of Object.entries(from[name])) if (!(into[frame] > at)) into[frame] = at;
    for (const frame of Object.keys(ticks)) if (unticked[frame] > ticks[frame]) delete ticks[frame];
    Object.assign(state, { ticks, unticked });
  }
  function keep() {
    try {
      const stored = localStorage.getItem(KEEP);
      if (stored && stored !== written && written !== null) {
        merge(understood(stored));
        follow();
      }
      written = JSON.stringify(state);
      localStorage.setItem(KEEP, written);
      $("unkept").hidden = true;
    } catch {
      $("unkept").hidden = false;
    }
  }
  // Taken over without writing, or two tabs would answer each other for ever; written only where
  // the other tab does not have a play of this one.
  addEventListener("storage", (event) => {
    if (event.key !== KEEP || !event.newValue) return;
    const other = understood(event.newValue), theirs = shared(other);
    merge(other);
    const known = new Set([...theirs.plays.map((play) => play.at), ...theirs.undone]);
    if (state.plays.every((play) => known.has(play.at))) written = event.newValue;
    else keep();
    follow();
    render();
  });

  // ---- the game --------------------------------------------------------------------------------
  const isUs = (g) => card.coverage === "both" || card.coverage === g.offense;
  // The snap that is answered; a kickoff and a try are answered as kicks.
  const isKick = () => ["kickoff", "try"].includes(state.game.phase);
  function snapOf(g) {
    if (g.phase === "scrimmage") return g;
    return { ...g, down: 1, distance_yd: Math.min(10, g.yardline_100) };
  }
  function follow() {
    const snap = snapOf(state.game);
    state.direction = snap.direction === 1 ? "B" : "A";
    state.yardline = snap.yardline_100;
    state.down = snap.down;
    state.distance = Math.min(snap.distance_yd, LONGEST);
    state.changed = snap.changed_hands;
    state.team = isUs(snap) ? "ours" : "theirs";
  }
  // What was set by hand becomes the game.
  function adopt() {
    state.game = {
      ...state.game, phase: "scrimmage", direction: state.direction === "A" ? -1 : 1,
      yardline_100: state.yardline, down: state.down, distance_yd: distance(),
      changed_hands: state.changed,
    };
    follow();
  }
  follow();

  // ---- answers ---------------------------------------------------------------------------------
  const turned = (station) => (state.direction === "A" ? (station + HALF) % N : station);
  const inStadium = (x, y) => (state.direction === "A" ? [LENGTH - x, WIDTH - y] : [x, y]);
  const distance = () => Math.min(state.distance, LONGEST, state.yardline);
  const isFirst = () => state.down === 1 && distance() === Math.min(10, state.yardline);
  const percent = (code) => card.percents[code];
  const share = (code) => (code === LESS ? 0 : code === MORE ? 1 : code / 100);
  const way = () => (card.directions.includes(state.direction) ? state.direction : "B");
  const leadOf = (g) => (g.home_points - g.away_points) * (g.offense === "home" ? 1 : -1);
  const lead = () => leadOf(snapOf(state.game));
  // Which score and tempo the answers are for; the clock is known by one button only.
  function moment() {
    const { quarter } = state.game, ahead = quarter >= 4 && lead() > 0;
    const name = state.hurry ? (ahead ? "runout" : "hurry") : ahead ? "ahead" : quarter >= 4 && lead() < 0 ? "behind" : "usual";
    return name in card.limit_yd ? name : "usual";
  }
  // Score and tempo count for more than the hash mark, which has tables at the usual ones only.
  const tableOf = () => `${way()}:${moment() === "usual" ? state.hash : moment()}`;
  const outcomeAt = (at) => tables.get(`outcome:${moment()}`).subarray(at * 7, at * 7 + 7);
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
  const labelAt = (position) => {
    const label = (card.places.label[state.direction] || card.places.label.B)[position];
    return isKick() ? label.replaceAll("offense", "kicking team").replaceAll("opponent", "receiving team") : label;
  };
  const placeAt = (position) => ({
    x_yd: card.places.x_yd[position], y_yd: card.places.y_yd[position],
    label: labelAt(position),
  });

  // Kickoff, free kick and kicked try: one row each.
  function kickAnswer() {
    const free = state.game.yardline_100 === RULES.safety_kick_from && RULES.safety_kick_from !== RULES.kickoff_from;
    const at = state.game.phase === "try" ? 2 : free ? 1 : 0, usable = tables.get(`kick:${way()}`);
    if (state.standing !== null) {
      const usual = card.limit_yd.usual, limit = at === 2 ? usual : Math.max(card.change_limit_yd, usual);
      return decided(tables.get(`kick-choice:${way()}`)[at * N + turned(state.standing)], usable, at, limit);
    }
    const go = tables.get(`kick-best:${way()}`)[at], code = go === card.no_spot ? 0 : usable[at * N + go];
    if (go === card.no_spot) return { none: true, usable, at };
    return { place: placeAt(go), code, most: code, usable, at, near: turned(go), missed: 0, action: pays(code) ? "best" : "nothing" };
  }
  function answer() {
    if (isKick()) return kickAnswer();
    const name = tableOf(), at = row(), limit_yd = card.limit_yd[moment()];
    const usable = tables.get(`usable:${name}`);
    if (state.standing === null) {
      const best = tables.get(`best:${name}`), go = best[at * 2], code = best[at * 2 + 1];
      if (go === card.no_spot) return { none: true, usable, at };
      const found = { place: placeAt(go), code, most: code, usable, at, near: turned(go), missed: 0 };
      return { ...found, action: pays(code) ? "best" : "nothing" };
    }
    const own = state.team === "ours" || moment() !== "usual" ? name : `${way()}:any`;
    const here = turned(state.standing);
    const long = state.changed && isFirst();
    const go = long
      ? tables.get(`far:${own}:${state.team}`)[(state.yardline - 1) * N + here]
      : tables.get(`choice:${own}:${state.team}`)[at * N + here];
    return decided(go, usable, at, long ? Math.max(card.change_limit_yd, limit_yd) : limit_yd);
  }
  function decided(go, usable, at, limit) {
    const here = turned(state.standing), near = turned(go), walk_yd = walk(state.standing, near), stays = go === here;
    // A place beyond the walk is where a crossing ends; at the snap one is on the way.
    const missed = walk_yd > limit + 1e-6 ? Math.ceil((walk_yd - 1e-6) / step(limit)) - 1 : 0;
    const code = missed ? 0 : usable[at * N + go];
    let most = code;
    for (let q = 0; q < N; q++)
      if (card.open[way()][q] === "1" && walk(state.standing, turned(q)) <= limit + 1e-6 &&
        share(usable[at * N + q]) > share(most)) most = usable[at * N + q];
    const action = !pays(most) ? "nothing" : stays ? "stay" : missed ? "cross" : "walk";
    return {
      action, place: placeAt(go), code, most, stay: usable[at * N + here], usable, at, near, stays,
      walk_yd, missed, limit,
    };
  }
  const pays = (code) => Math.round(100 * share(code)) >= 100 * card.least_usable - 1e-9;
  // From closed ground one always gets to the next station.
  function step(limit) {
    if (card.open[way()][turned(state.standing)] === "1") return limit;
    const next = [1, N - 1].map((by) => walk(state.standing, (state.standing + by) % N));
    return Math.max(limit, Math.min(...next));
  }
  // Where one is at the snap: the place itself, or the last station within the walk toward it.
  function atSnap(found) {
    if (!found.missed) return found.near;
    const from = state.standing, limit = step(found.limit);
    const up = walk(from, (from + 1) % N) + walk((from + 1) % N, found.near) < found.walk_yd + 1e-3;
    let last = from;
    for (let i = 1; i < N; i++) {
      const s = (from + (up ? i : N - i)) % N;
      if (walk(from, s) > limit + 1e-6) break;
      last = s;
    }
    return last;
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
  // What is likely on fourth down: [name, code] by whole percents, the likeliest first.
  function choices4() {
    if (isKick() || state.down !== 4) return [];
    const c = tables.get(`fourth:${moment()}`).subarray((row() % (LONGEST * YARDS)) * 3);
    const named = [["field_goal", c[2]], ["punt", c[1]], ["go", c[0]]];
    return named.sort((a, b) => Math.round(100 * share(b[1])) - Math.round(100 * share(a[1])));
  }
  function led(text) {
    const [first, second] = choices4(), { words } = card;
    if (!first) return text;
    const likely = share(first[1]) >= card.likely - 1e-9;
    const lead = filled(likely ? words.likely : words.either, {
      first: words[first[0]], p: percent(first[1]), second: words[second[0]], q: percent(second[1]),
    });
    return `${lead}${card.borrowed ? words.borrowed : ""}: ${text}`;
  }
  // Practice and cautions of the kicks that may come.
  function ofKicks() {
    const { words } = card, chance = Object.fromEntries(choices4().map(([name, code]) => [name, share(code)]));
    const tried = state.game.phase === "try" ? 1 : chance.field_goal ?? 0, kicked = Math.max(tried, chance.punt ?? 0);
    const named = card.named - 1e-9;
    return [tried >= card.likely - 1e-9 ? words.kicker : "", tried >= named ? words.clear : "", kicked >= named ? words.fakes : ""];
  }
  function situationText() {
    const { phase } = state.game, { words } = card;
    if (phase === "over") return words.over;
    if (phase === "kickoff") return filled(words.kickoff, { ball: ballText(state.game.yardline_100) });
    if (phase === "try") return words.try;
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
    const { home_points: home, away_points: away, quarter } = state.game;
    const named_quarter = quarter === 5 ? "OT" : `Q${quarter}`;
    $("toward").textContent = `${named_quarter} · ${filled(words.score, { home, away })}`;
    possession();
    if (found.none) {
      $("go").textContent = capital(words.nothing);
      $("where").textContent = capital(words.no_spot);
      $("p").textContent = percent(0);
      $("why").textContent = `${capital(words.instead)}.`;
      return;
    }
    const yards = found.walk_yd === undefined ? null : Math.round(found.walk_yd);
    const seconds = Math.round(found.walk_yd * card.walk_s_per_yd);
    const move = filled(found.missed ? words.cross : words.walk, { yards, seconds });
    const go = yards === null ? words.best : found.stays ? words.stay : move;
    const lead = filled(words.nothing, { most: percent(found.most) });
    $("go").textContent = capital(led(found.action === "nothing" ? `${lead}: ${go}` : go));
    $("where").textContent = capital(found.place.label);
    $("p").textContent = percent(found.code);
    const position = turned(found.near), parts = [sideName(found.place), ...ofKicks()];
    if (found.missed)
      parts.push(found.missed === 1 ? words.snap_missed : filled(words.snaps_missed, { snaps: found.missed }), words.keep_moving);
    else if (found.walk_yd !== undefined && !found.stays) {
      const staying = filled(words.staying, { usable: percent(found.stay) });
      const later = share(found.stay) >= share(found.code);
      parts.push(later ? `${staying}, ${words.for_later}` : staying);
    }
    if (isKick()) {
      $("why").textContent = capital(parts.filter(Boolean).join(" · "));
      return;
    }
    if (found.action === "nothing" && !found.missed) {
      const instead = snapFor(found);
      if (instead.length) parts.push(`${words.snap_for} ${instead.join(" or ")}`);
    }
    if (card.lenses.length > 1)
      parts.push(`lens ${card.lenses[tables.get(`lens:${way()}`)[found.at * N + position]]}`);
    const out = tables.get(`exposure:${way()}`)[found.at * N + position];
    parts.push(filled(words.run_out, { run_out: percent(out) }));
    $("why").textContent = capital(parts.filter(Boolean).join(" · "));
  }
  // What a snap is good for where nothing pays: frames that are likely now, life around the game.
  function snapFor(found) {
    const o = outcomeAt(found.at), said = [];
    const away = Math.hypot(
      found.place.x_yd - (110 - state.yardline - card.drop_back_yd), found.place.y_yd - card.hash_y_yd[state.hash],
    );
    if (away <= card.reach_yd)
      for (const [key, code, least] of [["drop-back", o[5], card.least_p_pass], ["defense-big-play", o[6], card.least_p_sack]])
        if (share(code) >= least && !state.ticks[key]) said.push(`the ${card.likely[key]} (${percent(code)})`);
    const life = card.frames.find((f) => f.kind === "life" && f.in_play && !state.ticks[f.key]);
    if (life) said.push(`${life.said} (${Math.round(life.minutes)} min)`);
    return said;
  }
  function expect(at) {
    if (isKick()) return void ($("expect").textContent = "");
    const o = outcomeAt(at), off = card.gain_offset_yd;
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
    if (!isKick()) line(gain, 0, gain, WIDTH, { stroke: "var(--band-edge)", "stroke-width": 2.5, "stroke-dasharray": "5 4" });
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
  // A finger that rests shows where it is; one that lifts takes it. Sliding aims to the yard.
  let aiming = null;
  function aimOf(event) {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    const x = xa * at.x + xb * at.y + xc, y = ya * at.x + yb * at.y + yc;
    if (y < 4 || y > WIDTH - 4 || x < 3 || x > LENGTH - 3) return { standing: nearest(x, y, true) };
    const ahead = state.direction === "A" ? -1 : 1;
    const along = Math.round(ahead === -1 ? x - 10 : 110 - x);
    return { ball: Math.min(Math.max(along, state.logs ? 0 : 1), state.logs ? 100 : YARDS) };
  }
  function aimText(aim) {
    if (aim.standing !== undefined) return labelAt(turned(aim.standing));
    return aim.ball <= 0 ? card.words.goal : aim.ball >= 100 ? card.words.own_goal : ballText(aim.ball);
  }
  svg.addEventListener("pointerdown", (event) => { aiming = event.pointerId; told(aimText(aimOf(event))); });
  svg.addEventListener("pointermove", (event) => { if (aiming !== null) told(aimText(aimOf(event))); });
  svg.addEventListener("pointercancel", () => { aiming = null; told(""); });
  svg.addEventListener("pointerup", (event) => {
    if (aiming === null) return;
    aiming = null;
    told("");
    const aim = aimOf(event);
    if (aim.standing !== undefined) state.standing = aim.standing;
    else if (state.logs) return ballAt(aim.ball);
    else { state.yardline = aim.ball; adopt(); }
    show();
  });
  function told(text) {
    $("aim").textContent = text;
    $("aim").hidden = !text;
  }

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
    choices("mode", [[false, card.words.set_mode], [true, card.words.log_mode]], () => state.logs,
      (v) => { state.logs = v; armed = null; }, "row mode"),
    choices("down", [[1, "1st"], [2, "2nd"], [3, "3rd"], [4, "4th"], ["kickoff", card.words.kick_off]],
      () => (state.game.phase === "scrimmage" ? state.down : state.game.phase), (v) => {
        if (v === "kickoff") {
          state.game = { ...state.game, phase: "kickoff", down: null, distance_yd: null,
            yardline_100: RULES.kickoff_from, changed_hands: false };
          if (!state.plays.length) state.game.opened_by = state.game.offense;
          state.logs = true;
          return follow();
        }
        if (v === 1 && state.down !== 1) state.distance = Math.min(10, LONGEST);
        if (v !== 1) state.changed = false;
        state.down = v;
        adopt();
      }),
    choices("distance", [...distances.map((d) => [d, d === LONGEST ? `${d}+` : `${d}`, `${d} yards to go`]),
      [-1, "−", "a yard less"], [-2, "+", "a yard more"]],
      () => distance(), (v) => {
        setDistance(v === -1 ? distance() - 1 : v === -2 ? distance() + 1 : v);
        adopt();
      }, "grid7"),
    choices("quarter", [[1, "1"], [2, "2"], [3, "3"], [4, "4"], [5, "OT"]], () => state.game.quarter,
      (v) => { state.game = { ...state.game, quarter: v }; }),
    choices("score", ["home", "away"].flatMap((team) => ["−", "+"].map((sign) =>
      [team + (sign === "+" ? "+" : "-"), `${card.words[team]} ${sign}`])), () => "", (v) => {
        const points = `${v.slice(0, -1)}_points`, by = v.endsWith("+") ? 1 : -1;
        state.game = { ...state.game, [points]: Math.max(state.game[points] + by, 0) };
      }),
    choices("ends", [[-1, `◀ ${card.ends[0]}`], [1, `${card.ends[1]} ▶`]], () => state.game.direction,
      (v) => { state.game = { ...state.game, direction: v }; follow(); }),
    choices("theme", [["auto", "Auto"], ["light", "Light"], ["dark", "Dark"]], () => state.theme,
      (v) => { state.theme = v; }),
  ];
  $("hash-part").hidden = !hasHash;
  if (hasHash) {
    const words = { left: "Left", any: "Not said", middle: "Middle", right: "Right" };
    const order = ["left", "middle", "right", "any"].filter((name) => card.hashes.includes(name));
    pressed.push(choices("hash", order.map((name) => [name, words[name]]), () => state.hash, (v) => { state.hash = v; }));
  }
  // The slider runs along the field as the picture shows it: end A on the left.
  const slider = $("ball");
  const along = () => (state.direction === "A" ? state.yardline : 100 - state.yardline);
  const setAlong = (value) => {
    const at = whole(value, 1, YARDS, along());
    state.yardline = state.direction === "A" ? at : 100 - at;
    adopt();
  };
  slider.addEventListener("input", () => { setAlong(Number(slider.value)); show(); });
  $("ball-less").addEventListener("click", () => { setAlong(along() - 1); show(); });
  $("ball-more").addEventListener("click", () => { setAlong(along() + 1); show(); });
  const onward = (by) => {
    let s = state.standing ?? answer().near ?? 0;
    do s = (s + by + N) % N; while (stations.wait[s] !== "1");
    state.standing = s;
    show();
  };
  $("stand-back").addEventListener("click", () => onward(-1));
  $("stand-on").addEventListener("click", () => onward(1));
  $("stand-clear").addEventListener("click", () => { state.standing = null; show(); });
  // The one big toggle: the other team has the ball, and attacks the other end.
  $("possession").addEventListener("click", () => {
    const { phase } = state.game;
    state.game = game.otherTeam(state.game);
    if (phase === "kickoff" && !state.plays.length) state.game.opened_by = state.game.offense;
    follow();
    show();
  });
  $("hurry").addEventListener("click", () => { state.hurry = !state.hurry; show(); });
  function possession() {
    $("hurry").setAttribute("aria-pressed", String(state.hurry));
    const g = state.game, { words } = card, toB = g.direction === 1;
    const what = { scrimmage: words.has_ball, kickoff: words.kicks, try: words.tries, over: words.over }[g.phase];
    const line = filled(what, { team: g.offense === "home" ? words.home : words.away });
    const end = card.ends[toB ? 1 : 0];
    $("possession").textContent = toB ? `${line} · ${end} ▶` : `◀ ${end} · ${line}`;
  }

  // ---- the log ---------------------------------------------------------------------------------
  let fading;
  function toast(text) {
    $("toast").textContent = text;
    $("toast").hidden = false;
    clearTimeout(fading);
    fading = setTimeout(() => { $("toast").hidden = true; }, 1800);
  }
  let armed = null;
  const result = (kind, ball = null, firstDown = false) =>
    ({ kind, yardline_100: ball, first_down: firstDown });
  // A tap where the ball is now, after whatever was said before it.
  function ballAt(ball) {
    const kinds = { kick: "kick", kept: "kick-kept", turnover: "fumble", flag: "no-play", first: "no-play" };
    const { phase } = state.game;
    const kind = armed ? kinds[armed] : { kickoff: "kick", scrimmage: "gain", try: "gain" }[phase];
    if (!kind) return show();
    log(result(kind, ball, armed === "first"));
  }
  function log(what) {
    const before = state.game, after = game.apply(before, what, RULES);
    if (!after) return;
    const found = answer(), place = found.none ? null : found.place;
    const last = state.plays[state.plays.length - 1];
    // A clock that was set back must not put a play before the one that was logged first.
    const at = new Date(Math.max(Date.now(), last ? Date.parse(last.at) + 1 : 0)).toISOString();
    remember(at);
    state.plays.push({
      at, quarter: before.quarter, direction: before.direction === 1 ? "B" : "A",
      phase: before.phase, offense: before.offense, down: before.down, distance_yd: before.distance_yd,
      ball: ballCode(before.yardline_100), yardline_100: before.yardline_100,
      score_diff: leadOf(before),
      hash: state.hash === "any" ? "middle" : state.hash, hash_known: state.hash !== "any",
      ball_changed_hands: before.changed_hands,
      standing: state.standing === null ? null : placeAt(turned(state.standing)),
      answer: place && { ...place, p_usable: share(found.code), walk_yd: Number.isFinite(found.walk_yd) ? Number(found.walk_yd.toFixed(1)) : null },
      result: what.kind, end_yardline_100: what.yardline_100, first_down: what.first_down, ends_quarter: false,
    });
    state.game = afterPlay(after);
    moved();
  }
  const remember = (at) => {
    const ended = state.plays.length > 0 && state.plays[state.plays.length - 1].ends_quarter;
    state.past.push({ game: state.game, hash: state.hash, at, ended });
  };
  function moved() {
    state.hash = "any";
    state.logs = true;
    armed = null;
    follow();
    show();
  }
  function breakNow() {
    const after = game.endQuarter(state.game, RULES);
    if (!after) return;
    remember(null);
    if (state.plays.length) state.plays[state.plays.length - 1].ends_quarter = true;
    state.game = clocked(after, card.quarter_s);
    state.hurry = false;
    moved();
  }
  function undo() {
    const before = state.past.pop();
    if (!before) return;
    if (before.at) {
      state.plays = state.plays.filter((play) => play.at !== before.at);
      state.undone.push(before.at);
    }
    if (state.plays.length) state.plays[state.plays.length - 1].ends_quarter = before.ended;
    Object.assign(state, { game: before.game, hash: before.hash });
    armed = null;
    follow();
    show();
  }
  // What can be said of a play besides where the ball is: by what comes next, then by what was said.
  const FLAG = card.penalties;
  const say_of = {
    incomplete: () => log(result("incomplete")), good: () => log(result("field-goal")),
    missed: () => log(result("missed")), touchdown: () => log(result("gain", 0)),
    safety: () => log(result("safety")), two: () => log(result("gain", 0)),
    touchback: () => log(result(armed === "turnover" ? "interception" : "kick", 0)),
    returned: () => log(result(armed === "turnover" ? "fumble" : "kick", 100)),
    out: () => log(game.kickoffOut(state.game, RULES)), quarter: breakNow,
    back: () => { armed = null; show(); },
  };
  for (const kind of ["kick", "kept", "turnover", "flag", "first", "score"])
    say_of[kind] = () => { armed = kind; show(); };
  for (const penalty of FLAG) say_of[penalty.key] = () => log(game.flagResult(state.game, penalty));
  function offered() {
    const { phase, down } = state.game;
    if (armed) return card.offered[armed] || ["back"];
    return card.offered[phase === "scrimmage" && down === 4 ? "fourth" : phase];
  }
  function results() {
    const holder = $("results");
    holder.replaceChildren();
    for (const name of offered()) {
      const button = document.createElement("button");
      button.type = "button";
      button.dataset.result = name;
      button.textContent = card.results[name];
      button.addEventListener("click", say_of[name]);
      holder.appendChild(button);
    }
    const where = { kickoff: card.words.tap_kick, scrimmage: card.words.tap_ball, try: "", over: "" };
    $("tap").textContent = !state.logs ? card.words.tap_set
      : armed === "score" ? "" : where[armed ? "scrimmage" : state.game.phase];
    for (const part of ["by-hand", "hash-part"]) $(part).hidden = state.logs || (part === "hash-part" && !hasHash);
    holder.hidden = !state.logs;
  }
  $("went").addEventListener("click", () => {
    const found = answer();
    if (!found.none) state.standing = atSnap(found);
    show();
  });
  function logDocument() {
    return {
      format: "lensyard-card-export", version: 2, exported_at: new Date().toISOString(),
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
  for (const id of ["undo", "take-back"]) $(id).addEventListener("click", undo);
  let sure = false;
  $("new-game").addEventListener("click", () => {
    sure = !sure;
    if (!sure) {
      const { theme } = state;
      Object.assign(state, fresh(), { theme });
      state.game = clocked(state.game, card.quarter_s);
      armed = null;
      follow();
      toast("A new game: log and ticks are empty");
    }
    show();
  });
  function logged() {
    const list = $("log");
    list.replaceChildren();
    state.plays.slice(-30).reverse().forEach((play) => {
      const item = document.createElement("li"), said = play.answer;
      const what = play.down ? `${play.down} & ${play.distance_yd}` : play.phase;
      const end = play.end_yardline_100, to = end === null ? "" : ` → ${aimText({ ball: end })}`;
      item.textContent = `${String(play.at).slice(11, 16)} UTC · ${what} at ${play.ball}: ${play.result}${to}` +
        (said ? ` · ${said.label} (${Math.round(100 * said.p_usable)}%)` : "");
      list.appendChild(item);
    });
    $("log-empty").hidden = state.plays.length > 0;
    $("undo").disabled = $("take-back").disabled = !state.past.length;
    $("new-game").textContent = sure ? "Tap again to empty everything" : "New game";
  }

  // ---- filing ----------------------------------------------------------------------------------
  // The clock is known when a quarter begins or somebody sets it; a play takes some of it.
  const minutes = (s) => `${Math.floor(s / 60)}:${String(Math.floor(s % 60)).padStart(2, "0")}`;
  const clocked = (g, clock_s) => (card.filing.length ? { ...g, clock_s } : g);
  const afterPlay = (g) => (g.clock_s === null ? g : clocked(g, Math.max(g.clock_s - card.clock_s_a_play, 0)));
  function leaving({ quarter, left_s, at, when }) {
    const g = state.game, { words } = card, over = g.phase === "over" || (quarter && g.quarter > quarter);
    if (at !== null) {
      const min = Math.ceil((Date.parse(at) - Date.now()) / 60000);
      return min > 0 ? filled(words.leave_min, { min, time: at.slice(11, 16) }) : g.phase === "over" ? "" : words.leave_now;
    }
    if (over) return "";
    if (g.clock_s === null) return filled(words.leave_at, { when });
    const left = (quarter - g.quarter) * card.quarter_s + g.clock_s - left_s;
    if (left <= 0) return left_s ? words.leave_now : words.leave_whistle;
    return filled(words.leave_in, { clock: minutes(left), plays: Math.round(left / card.clock_s_a_play), when });
  }
  function filing() {
    const said = card.filing.map(leaving).filter(Boolean);
    $("filing-part").hidden = !said.length;
    $("filing").textContent = said.join(" ");
  }
  pressed.push(choices("clock", [15, 12, 10, 8, 6, 5, 4, 3, 2, 1].map((m) => [60 * m, `${m}:00`]),
    () => state.game.clock_s, (v) => { state.game = clocked(state.game, v); }, "grid7"));
  if (!state.plays.length && !state.past.length) state.game = clocked(state.game, card.quarter_s);
  if (card.filing.some((one) => one.at !== null)) setInterval(filing, 15000);

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
      else {
        delete state.ticks[frame.key];
        state.unticked[frame.key] = new Date().toISOString();
      }
      show();
    });
    $(frame.kind === "action" ? "action" : "life").appendChild(label);
    return box;
  });
  $("action-part").hidden = !card.frames.some((f) => f.kind === "action");
  $("life-part").hidden = !card.frames.some((f) => f.kind === "life");
  $("no-frames").hidden = card.frames.length > 0;

  // ---- the page --------------------------------------------------------------------------------
  function pair(tag, name, text) {
    const [first, second] = tag.map((kind) => document.createElement(kind));
    first.textContent = name;
    second.textContent = text;
    return [first, second];
  }
  function facts() {
    for (const [name, text] of card.facts) $("facts-list").append(...pair(["dt", "dd"], name, text));
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
      item.append(...pair(["b", "span"], when, seen));
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
    keep();
    render();
  }
  function render() {
    const found = answer();
    say(found);
    expect(found.at);
    picture(found);
    for (const mark of pressed) mark();
    slider.value = String(along());
    slider.setAttribute("aria-valuetext", ballText(state.yardline));
    $("ball-text").textContent = ballText(state.yardline);
    $("distance-text").textContent = distance() === state.yardline ? "goal" : `${distance()}${distance() === LONGEST ? "+" : ""}`;
    $("stand-text").textContent = state.standing === null ? "not said" : labelAt(turned(state.standing));
    $("stand-clear").disabled = state.standing === null;
    $("went").disabled = found.none || found.stays === true;
    results();
    const ticked = card.frames.filter((f) => state.ticks[f.key]).length;
    for (const box of boxes) box.checked = Boolean(state.ticks[box.dataset.frame]);
    const missing = card.frames.filter((f) => !state.ticks[f.key]).map((f) => f.title);
    $("must-haves").textContent = !card.frames.length ? ""
      : missing.length ? filled(card.words.missing, { frames: missing.slice(0, 3).join(" · ") }) : card.words.all_had;
    $("must-haves").hidden = !card.frames.length;
    filing();
    $("to-shots").textContent = card.frames.length ? `Shots ${ticked}/${card.frames.length}` : "Shots";
    if (state.theme === "auto") delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = state.theme;
    logged();
  }
  $("must-haves").addEventListener("click", () => open("shots"));
  facts();
  show();
  open("play");
  document.documentElement.dataset.ready = "1";
})();
